"""What an owner reads of what they asked, of their visits and of why the house holds their data."""

from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from service_center.intake.visits.models import Visit
from service_center.intake.visits.rules import VisitState
from service_center.intake.visits.wording import clock, full_day
from service_center.letters.rules.words import Ground
from service_center.owner_pages.models import OwnerRequest
from service_center.owner_pages.rules import RequestKind, RequestState

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


def request_in_words(one: OwnerRequest) -> str:
    """What became of a request, in one sentence."""
    said = {"day": date_format(one.due_on)}
    return {
        RequestState.OPEN: _("A person looks at it and answers until %(day)s."),
        RequestState.DONE: _("This is done."),
        RequestState.DECLINED: _("We could not do this."),
    }[RequestState(one.state)] % said


def visit_kept_in_words(one: Visit) -> str:
    """A visit as it stands written down: where, when, and what became of it."""
    said = {"boutique": str(one.boutique), "day": full_day(one.day), "time": clock(one.at), "state": VISITS[one.state]}
    return _("%(boutique)s, %(day)s, %(time)s: %(state)s") % said


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
