"""How the house reaches an owner, corrected by them or by the desk. What stood before and what stands now is in the trail."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.actions import correct_owner, set_postal_address
from service_center.book.models import Owner
from service_center.letters.doorbell import ring_after_commit
from service_center.letters.models import Letter
from service_center.letters.rules.words import LetterState
from service_center.owner_pages.actions.requests import write_down
from service_center.owner_pages.models import EmailChange, Notice
from service_center.owner_pages.places import only_zone_of
from service_center.owner_pages.rules import CONFIRM_WITHIN, EMAIL_CHANGES_A_DAY, NoticeKind, RequestKind, RequestState

SEND_NOTICES = "owner_pages.send_notices"


@dataclass(frozen=True, slots=True)
class Details:
    """What an owner says of themselves. Their name is not among it: whose a watch is, a person decides."""

    email: str
    phone: str
    address: str
    language: str
    country: str


class TooManyChangesError(Exception):
    """The owner's e-mail address was to be changed too often today; nothing was written."""


@transaction.atomic
def correct_details(letter: Letter, said: Details, *, on: date, now: datetime) -> EmailChange | None:
    """Write down an owner's particulars. Returns the e-mail address that is still to be confirmed, if they gave one.

    Until then letters go to the address before. Raises TooManyChangesError. Said twice, it is written once.
    """
    owner = Owner.objects.select_for_update(no_key=True).get(pk=letter.owner_id)
    fields = {"phone": said.phone, "language": said.language, "country": said.country}
    if said.country != owner.country:
        fields["time_zone"] = only_zone_of(said.country)
    before = correct_owner(owner, fields)
    after = {field: fields[field] for field in before}
    lines = set_postal_address(owner, said.address)
    if lines != said.address:
        before["postal_address"], after["postal_address"] = lines, said.address
    if before:
        leave_trail(
            by=None,
            deed="owner_corrects",
            subject=f"owner:{owner.code}",
            before=before,
            after=after,
            reason=_by_link(letter),
        )
    asked = _ask_for_email(owner, letter, said.email, now=now) if said.email != owner.email else None
    if before or (asked and asked.asked_at == now):
        fields_told = ", ".join([*before, *(["email"] if asked else [])])
        write_down(owner, letter, RequestKind.DETAILS, said=fields_told, on=on, now=now, state=RequestState.DONE)
    return asked


@transaction.atomic
def correct_by_desk(owner: Owner, said: Details, *, name: str, reason: str, by: Staff, now: datetime) -> bool:
    """Write down what the desk heard of an owner's particulars. False where the book says the same already.

    An e-mail address counts at once, since the desk heard it from the owner; one that still waited to be confirmed
    counts no more. An address that letters were stopped for stays stopped.
    """
    locked = Owner.objects.select_for_update(no_key=True).get(pk=owner.pk)
    fields = {
        "name": name,
        "email": said.email,
        "phone": said.phone,
        "language": said.language,
        "country": said.country,
    }
    if said.country != locked.country:
        fields["time_zone"] = only_zone_of(said.country)
    before = correct_owner(locked, fields)
    after = {field: fields[field] for field in before}
    lines = set_postal_address(locked, said.address)
    if lines != said.address:
        before["postal_address"], after["postal_address"] = lines, said.address
    if not before:
        return False
    if "email" in before:
        pending = EmailChange.objects.filter(owner=locked, confirmed_at=None, withdrawn_at=None).first()
        if pending:
            _withdraw(pending, now=now)
    leave_trail(by=by, deed="desk_corrects", subject=f"owner:{locked.code}", before=before, after=after, reason=reason)
    return True


def _ask_for_email(owner: Owner, letter: Letter, email: str, *, now: datetime) -> EmailChange:
    pending = EmailChange.objects.filter(owner=owner, confirmed_at=None, withdrawn_at=None).first()
    if pending and pending.email == email and pending.expires_at > now:
        return pending
    asked = EmailChange.objects.filter(owner=owner, asked_at__gt=now - timedelta(days=1)).count()
    if asked >= EMAIL_CHANGES_A_DAY:
        raise TooManyChangesError
    if pending:
        _withdraw(pending, now=now)
    change = EmailChange.objects.create(
        owner=owner, letter=letter, before=owner.email, email=email, asked_at=now, expires_at=now + CONFIRM_WITHIN
    )
    kinds = [NoticeKind.CONFIRM, *([NoticeKind.TELL_BEFORE] if owner.email else [])]
    Notice.objects.bulk_create([Notice(change=change, kind=kind.value, not_before=now) for kind in kinds])
    leave_trail(
        by=None,
        deed="email_asked",
        subject=f"owner:{owner.code}",
        before={"email": owner.email},
        after={"email": email},
        reason=_by_link(letter),
    )
    ring_after_commit(SEND_NOTICES)
    return change


@transaction.atomic
def withdraw_email_change(letter: Letter, *, now: datetime) -> bool:
    """The owner does not want the new address after all. False where none waits."""
    owner = Owner.objects.select_for_update(no_key=True).get(pk=letter.owner_id)
    pending = EmailChange.objects.filter(owner=owner, confirmed_at=None, withdrawn_at=None).first()
    if pending is None:
        return False
    _withdraw(pending, now=now)
    leave_trail(
        by=None,
        deed="email_withdrawn",
        subject=f"owner:{owner.code}",
        before={"email": pending.email},
        reason=_by_link(letter),
    )
    return True


def _withdraw(change: EmailChange, *, now: datetime) -> None:
    change.withdrawn_at = now
    change.save(update_fields=["withdrawn_at"])
    # The one before is still told: it may be the only one who learns that somebody tried.
    waiting = Notice.objects.filter(change=change, kind=NoticeKind.CONFIRM, state=LetterState.WAITING)
    waiting.update(state=LetterState.ENDED)


@transaction.atomic
def confirm_email(change: EmailChange, *, now: datetime) -> bool:
    """From now on letters go to the new address. False where the owner's address is another meanwhile.

    An address that letters were stopped for stays stopped: only the desk lifts that.
    """
    owner = Owner.objects.select_for_update(no_key=True).get(pk=change.owner_id)
    locked = EmailChange.objects.select_for_update(no_key=True).get(pk=change.pk)
    if locked.confirmed_at:
        return owner.email == locked.email
    if locked.withdrawn_at or locked.expires_at <= now or owner.email != locked.before:
        return False
    before = correct_owner(owner, {"email": locked.email})
    locked.confirmed_at = now
    locked.save(update_fields=["confirmed_at"])
    leave_trail(
        by=None,
        deed="email_confirmed",
        subject=f"owner:{owner.code}",
        before=before,
        after={"email": locked.email},
        reason="By the link in the mail to the new address.",
    )
    return True


def _by_link(letter: Letter) -> str:
    return f"By the owner, on the page of letter {letter.pk}."
