"""What an owner reads of what they asked, of their visits and of why the house holds their data."""

from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from service_center.book.days import day_written
from service_center.book.wording import said_of
from service_center.intake.visits.models import Visit
from service_center.intake.visits.rules import VisitState
from service_center.intake.visits.wording import clock, full_day
from service_center.letters.models import Letter
from service_center.letters.rules.words import Channel, Ground, LetterState
from service_center.owner_pages.models import EmailChange, OwnerRequest
from service_center.owner_pages.queries import zone_for
from service_center.owner_pages.rules import RequestKind, RequestState, last_day

REQUESTS: dict[str, str | Promise] = {
    RequestKind.COPY: gettext_lazy("A copy of your data"),
    RequestKind.DETAILS: gettext_lazy("You corrected your particulars"),
    RequestKind.NAME: gettext_lazy("Your name, written otherwise"),
    RequestKind.CORRECTION: gettext_lazy("A correction"),
    RequestKind.ERASURE: gettext_lazy("Erasure of your data"),
}
LETTER_GROUNDS: dict[str, str | Promise] = {
    Ground.CONSENT: gettext_lazy("You agreed to letters."),
    Ground.EXISTING_CUSTOMER: gettext_lazy("You are our customer, and had not refused letters."),
    Ground.WITHDRAWN: gettext_lazy("You wanted no more letters."),
}
VISITS: dict[str, str | Promise] = {
    VisitState.BOOKED: gettext_lazy("booked"),
    VisitState.CANCELLED: gettext_lazy("cancelled"),
    VisitState.CAME: gettext_lazy("you came"),
    VisitState.DID_NOT_COME: gettext_lazy("you did not come"),
}

# Fields of the trail that are an owner's own.
FIELDS: dict[str, str | Promise] = {
    "name": gettext_lazy("Your name"),
    "email": gettext_lazy("E-mail"),
    "phone": gettext_lazy("Telephone"),
    "postal_address": gettext_lazy("Postal address"),
    "country": gettext_lazy("Country"),
    "language": gettext_lazy("Language of our letters and pages"),
    "time_zone": gettext_lazy("Time zone"),
    "letters": gettext_lazy("Letters about the care of your watches"),
}


def request_in_words(one: OwnerRequest) -> str:
    """What became of a request, in one sentence."""
    said = {"day": day_written(one.due_on)}
    return {
        RequestState.OPEN: _("A person looks at it and answers by %(day)s."),
        RequestState.DONE: _("This is done."),
        RequestState.DECLINED: _("We could not do this."),
    }[RequestState(one.state)] % said


def visit_kept_in_words(one: Visit) -> str:
    """A visit as it stands written down: where, when, and what became of it."""
    said = {"boutique": str(one.boutique), "day": full_day(one.day), "time": clock(one.at), "state": VISITS[one.state]}
    return _("%(boutique)s, %(day)s, %(time)s: %(state)s") % said


def sent_in_words(letter: Letter) -> str:
    """Whether a letter went out, and how."""
    if letter.sent_at is None:
        return _("not sent")
    # One that came back, and that nobody was told in its place, went by mail.
    channel = Channel(letter.channel) if letter.state == LetterState.SENT else Channel.MAIL
    return {
        Channel.MAIL: _("sent to %(email)s"),
        Channel.PAPER: _("sent on paper"),
        Channel.TELEPHONE: _("told by telephone"),
    }[channel] % {"email": letter.email}


def email_change_in_words(one: EmailChange) -> str:
    """What became of an e-mail address that an owner gave."""
    said = {"email": one.email}
    if one.confirmed_at:
        return _("%(email)s: confirmed on %(day)s") % (said | {"day": day_written(one.confirmed_at)})
    if one.withdrawn_at:
        return _("%(email)s: not wanted after all") % said
    return _("%(email)s: to be confirmed by %(day)s") % (
        said | {"day": day_written(last_day(one.expires_at, zone_for(one.owner, one.letter)))}
    )


def changes_in_words(before: dict[str, Any] | None, after: dict[str, Any] | None) -> str:
    """What stood written down of an owner and what stands there now; empty where nothing of theirs was changed."""
    earlier, later = before or {}, after or {}
    fields = [one for one in {**earlier, **later} if one in FIELDS]
    return "; ".join(
        said_of(str(FIELDS[one]), f"{_kept(earlier.get(one))} → {_kept(later.get(one))}") for one in fields
    )


def _kept(value: object) -> str:
    if isinstance(value, bool):
        return _("Yes") if value else _("No")
    return ", ".join(str(value).splitlines()) if value else "–"


def grounds() -> list[str]:
    """Why the house may hold the data (GDPR, Art. 6)."""
    return [
        _("Your watches, their guarantee and the work on them: our contract with you and the guarantee."),
        _("Records of work and papers: the law asks us to keep them, and they settle later questions."),
        _("Letters: that you agreed, or that you are our customer. You can stop them at any time."),
    ]


def left_out() -> str:
    """What a copy does not hold, and where to ask."""
    return _(
        "Not in this copy are the names of our staff and remarks written for the workshop. If you want to know of "
        "these, please ask us: a person looks through them."
    )
