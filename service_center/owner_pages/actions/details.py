"""How the house reaches an owner, corrected by them or by the desk. What stood before and what stands now is in the trail."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.actions import correct_owner, set_postal_address
from service_center.book.models import Owner
from service_center.letters.doorbell import ring_after_commit
from service_center.letters.models import Letter
from service_center.letters.queries.bounces import stop_of
from service_center.letters.rules.words import LetterState
from service_center.owner_pages.actions.requests import write_down
from service_center.owner_pages.actions.the_owner import OwnerErasedError, owner_held
from service_center.owner_pages.models import EmailChange, Notice
from service_center.owner_pages.places import zone_in
from service_center.owner_pages.queries import confirm_mail_of, postal_address_of, trusted_changes, zone_for
from service_center.owner_pages.rules import (
    EMAIL_CHANGES_A_DAY,
    NOT_TAKEN,
    NoticeKind,
    RequestKind,
    RequestState,
    confirm_until,
)

SEND_NOTICES = "owner_pages.send_notices"


@dataclass(frozen=True, slots=True)
class Details:
    """What an owner says of themselves. Their name is not among it: whose a watch is, a person decides."""

    email: str
    phone: str
    address: str
    language: str
    country: str


class ChangedMeanwhileError(Exception):
    """What was typed over stands otherwise by now; nothing was written. `stands`: those fields, as they are."""

    def __init__(self, stands: Mapping[str, str]) -> None:
        self.stands = stands
        super().__init__(", ".join(stands))


class TooManyChangesError(Exception):
    """The owner's e-mail address was to be changed too often today; nothing was written."""


@transaction.atomic
def correct_details(
    letter: Letter, said: Details, *, typed_over: Mapping[str, str] | None = None, on: date, now: datetime
) -> EmailChange | None:
    """Write down an owner's particulars. Returns the e-mail address that is still to be confirmed, if they gave one.

    Until then letters go to the address before. `typed_over`: the fields that they changed, each with what they had
    before them; all others stay as the book has them. Raises ChangedMeanwhileError and TooManyChangesError. Said twice,
    it is written once.
    """
    owner = owner_held(letter)
    fields = _to_write(owner, asdict(said), typed_over)
    email = fields.pop("email", owner.email)
    before, after = _write(owner, fields)
    if before:
        leave_trail(
            by=None,
            deed="owner_corrects",
            subject=f"owner:{owner.code}",
            before=before,
            after=after,
            reason=_by_link(letter),
        )
    asked = _ask_for_email(owner, letter, email, now=now) if email != owner.email else None
    if before or (asked and asked.asked_at == now):
        fields_told = ", ".join([*before, *(["email"] if asked else [])])
        write_down(owner, letter, RequestKind.DETAILS, said=fields_told, on=on, now=now, state=RequestState.DONE)
    return asked


@transaction.atomic
def correct_by_desk(
    owner: Owner,
    said: Details,
    *,
    name: str,
    typed_over: Mapping[str, str] | None = None,
    reason: str,
    by: Staff,
    now: datetime,
) -> bool:
    """Write down what the desk heard of an owner's particulars. False where the book says the same already.

    `typed_over`: the fields that were changed, each with what stood there when the page was opened; all others stay.
    An e-mail address counts at once, since the desk heard it from the owner; one that still waited to be confirmed
    counts no more. An address that letters were stopped for stays stopped. Raises OwnerErasedError and
    ChangedMeanwhileError.
    """
    locked = Owner.objects.select_for_update(no_key=True).get(pk=owner.pk)
    if locked.erased_on:
        raise OwnerErasedError
    before, after = _write(locked, _to_write(locked, asdict(said) | {"name": name}, typed_over))
    if not before:
        return False
    if "email" in before:
        pending = EmailChange.objects.filter(owner=locked, confirmed_at=None, withdrawn_at=None).first()
        if pending:
            _withdraw(pending, now=now)
    leave_trail(by=by, deed="desk_corrects", subject=f"owner:{locked.code}", before=before, after=after, reason=reason)
    return True


def _to_write(owner: Owner, said: Mapping[str, str], typed_over: Mapping[str, str] | None) -> dict[str, str]:
    """What of it was changed by whoever says it. Nobody's change is set back by a page that was open before it."""
    if typed_over is None:
        return dict(said)
    stands = {field: postal_address_of(owner) if field == "address" else getattr(owner, field) for field in typed_over}
    otherwise = {field: now for field, now in stands.items() if now not in {typed_over[field], said[field]}}
    if otherwise:
        raise ChangedMeanwhileError(otherwise)
    return {field: said[field] for field in typed_over}


def _write(owner: Owner, fields: dict[str, str]) -> tuple[dict[str, str], dict[str, str]]:
    """What stood before and what stands now, of each field that differs."""
    address = fields.pop("address", None)
    if fields.get("country", owner.country) != owner.country:
        fields["time_zone"] = zone_in(fields["country"], known=owner.time_zone)
    before = correct_owner(owner, fields)
    after = {field: fields[field] for field in before}
    if address is not None and (lines := set_postal_address(owner, address)) != address:
        before["postal_address"], after["postal_address"] = lines, address
    return before, after


def _ask_for_email(owner: Owner, letter: Letter, email: str, *, now: datetime) -> EmailChange:
    pending = EmailChange.objects.filter(owner=owner, confirmed_at=None, withdrawn_at=None).first()
    if pending and pending.email == email and pending.expires_at > now and _trusted(pending) and not _lost(pending):
        return pending
    asked = EmailChange.objects.filter(owner=owner, asked_at__gt=now - timedelta(days=1)).count()
    if asked >= EMAIL_CHANGES_A_DAY:
        raise TooManyChangesError
    if pending:
        _withdraw(pending, now=now)
    change = EmailChange.objects.create(
        owner=owner,
        letter=letter,
        before=owner.email,
        email=email,
        asked_at=now,
        expires_at=confirm_until(now, zone_for(owner, letter)),
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
    owner = owner_held(letter)
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
    """From now on letters go to the new address. False where the owner's address is another meanwhile, or where the
    desk withdrew the links of the letter on whose page it was given.

    An address that letters were stopped for stays stopped: only the desk lifts that.
    """
    owner = Owner.objects.select_for_update(no_key=True).get(pk=change.owner_id)
    locked = EmailChange.objects.select_for_update(no_key=True).get(pk=change.pk)
    if locked.confirmed_at:
        return owner.email == locked.email
    if locked.withdrawn_at or locked.expires_at <= now or owner.email != locked.before or not _trusted(locked):
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


def _lost(change: EmailChange) -> bool:
    """Whether its mail did not arrive, or may not have: given again, it is written anew.

    Not where letters to that address are stopped, for none would go there.
    """
    return confirm_mail_of(change) in {*NOT_TAKEN, LetterState.IN_DOUBT} and stop_of(change.email) is None


def _trusted(change: EmailChange) -> bool:
    return trusted_changes().filter(pk=change.pk).exists()


def _by_link(letter: Letter) -> str:
    return f"By the owner, on the page of letter {letter.pk}."
