"""What an owner asks of the house about their data, and what the desk decides."""

from datetime import date, datetime, timedelta

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.actions import correct_owner
from service_center.book.models import Owner
from service_center.letters.models import Letter
from service_center.owner_pages.actions.answering import stop_letters
from service_center.owner_pages.actions.the_owner import owner_held
from service_center.owner_pages.models import OwnerRequest
from service_center.owner_pages.rules import (
    COPIES_A_DAY,
    CORRECTION_CHARACTERS,
    RequestKind,
    RequestState,
    answer_by,
    version_of,
)

# Between one correction and the next of the same request.
APART = "\n\n"


class TooManyCopiesError(Exception):
    """The owner took copies of their data too often today; nothing was written."""


class RequestFullError(Exception):
    """Nobody has looked yet at as much as a request holds; nothing was added."""


class AlreadyDecidedError(Exception):
    """Somebody else decided meanwhile; nothing was changed."""


class AskedOtherwiseError(Exception):
    """The owner wrote something else since the words were shown that were to be decided; nothing was changed."""


@transaction.atomic
def note_copy(letter: Letter, *, form: str, on: date, now: datetime) -> OwnerRequest:
    """Write down that an owner takes a copy of their data, before it is made. Raises TooManyCopiesError."""
    owner = owner_held(letter)
    lately = OwnerRequest.objects.filter(owner=owner, kind=RequestKind.COPY, asked_at__gt=now - timedelta(days=1))
    if lately.count() >= COPIES_A_DAY:
        raise TooManyCopiesError
    return write_down(owner, letter, RequestKind.COPY, said=form, on=on, now=now, state=RequestState.DONE)


@transaction.atomic
def ask(letter: Letter, kind: RequestKind, *, said: str, on: date, now: datetime) -> OwnerRequest:
    """Tell the desk what an owner wants. Asked again while it is open, the first stands, with the newer words.

    A further correction is about another thing: it is added below the first, unless it stands there already. Raises
    RequestFullError.
    Who wants to be erased gets no more letters from this moment; what else goes, and what the law keeps, a person
    decides within the month.
    """
    owner = owner_held(letter)
    if kind is RequestKind.ERASURE:
        stop_letters(letter, on=on)
    standing = OwnerRequest.objects.filter(owner=owner, kind=kind, state=RequestState.OPEN).first()
    if standing is None:
        return write_down(owner, letter, kind, said=said, on=on, now=now, state=RequestState.OPEN)
    if kind is RequestKind.CORRECTION:
        if f"{APART}{said}{APART}" not in f"{APART}{standing.said}{APART}":
            if len(standing.said) + len(APART + said) > CORRECTION_CHARACTERS:
                raise RequestFullError
            _leave_trail(owner, f"asks_{kind.value}", before=None, after={"said": said, "letter": letter.pk})
            standing.said += APART + said
            standing.save(update_fields=["said"])
    elif standing.said != said:
        _leave_trail(owner, f"asks_{kind.value}", before={"said": standing.said}, after={"said": said})
        standing.said = said
        standing.save(update_fields=["said"])
    return standing


@transaction.atomic
def keep_name(letter: Letter, *, now: datetime) -> None:
    """The owner's name is right as it stands after all: a request for another that is open is done with."""
    owner = owner_held(letter)
    standing = OwnerRequest.objects.filter(owner=owner, kind=RequestKind.NAME, state=RequestState.OPEN).first()
    if standing is None:
        return
    _leave_trail(owner, "asks_name", before={"said": standing.said}, after={"said": owner.name})
    standing.said, standing.state, standing.decided_at = owner.name, RequestState.DONE.value, now
    standing.save(update_fields=["said", "state", "decided_at"])


@transaction.atomic
def decide(request: OwnerRequest, state: RequestState, *, seen: str, reason: str, by: Staff, now: datetime) -> None:
    """Write down what the desk decided; a corrected name is written into the book with it.

    `seen`: the version of the words that stood before whoever decides (`version_of`). Raises AlreadyDecidedError and
    AskedOtherwiseError.
    """
    owner = Owner.objects.select_for_update(no_key=True).get(pk=request.owner_id)
    locked = OwnerRequest.objects.select_for_update(no_key=True).get(pk=request.pk)
    if locked.state != RequestState.OPEN:
        raise AlreadyDecidedError(locked.state)
    if seen != version_of(locked.said):
        raise AskedOtherwiseError
    before: dict[str, str] = {"state": locked.state}
    after: dict[str, str] = {"state": state.value}
    if locked.kind == RequestKind.NAME and state is RequestState.DONE:
        before |= correct_owner(owner, {"name": locked.said})
        after["name"] = owner.name
    locked.state, locked.decided_at, locked.decided_by, locked.reason = state.value, now, by, reason
    locked.save(update_fields=["state", "decided_at", "decided_by", "reason"])
    leave_trail(
        by=by,
        deed=f"decides_{locked.kind}",
        subject=f"owner:{owner.code}",
        before=before,
        after=after,
        reason=reason,
    )


def write_down(
    owner: Owner, letter: Letter, kind: RequestKind, *, said: str, on: date, now: datetime, state: RequestState
) -> OwnerRequest:
    """One row of what an owner asked or did, and its trail. The caller holds the owner's row."""
    made = OwnerRequest.objects.create(
        owner=owner,
        letter=letter,
        kind=kind.value,
        said=said,
        asked_on=on,
        asked_at=now,
        due_on=answer_by(on),
        state=state.value,
        decided_at=now if state is RequestState.DONE else None,
    )
    if kind is not RequestKind.DETAILS:  # what was corrected has a trail of its own, with before and after
        _leave_trail(owner, f"asks_{kind.value}", before=None, after={"said": said, "letter": letter.pk})
    return made


def _leave_trail(owner: Owner, deed: str, *, before: dict[str, str] | None, after: dict[str, str | int]) -> None:
    leave_trail(by=None, deed=deed, subject=f"owner:{owner.code}", before=before, after=after)
