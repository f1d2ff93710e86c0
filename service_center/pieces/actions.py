"""Recording what was done to a piece, with all that follows: new due dates, and letters of the old interval ended."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book import actions as book
from service_center.book.actions import CannotVoid
from service_center.book.models import HistoryEntry, Piece, WatchModel
from service_center.book.rules import DoneBy, EntryKind, Place, Status, Tightness, Use
from service_center.intervals.actions import recompute
from service_center.letters.actions import end_reminders
from service_center.measurements import actions as measurements
from service_center.measurements.actions import ImpossibleReadingsError, SheetCorrectedBeforeError
from service_center.measurements.models import TimingSheet
from service_center.measurements.rules import Reading
from service_center.workshop.orders.queries.open_orders import open_order_of

__all__ = [
    "CannotVoid",
    "FormUsedError",
    "HasOrderError",
    "ImpossibleReadingsError",
    "Said",
    "SheetCorrectedBeforeError",
    "WithItsOwnerError",
    "Work",
    "correct_piece",
    "correct_sheet",
    "give_back",
    "hand_back",
    "record_entry",
    "strike_entry",
]


class WithItsOwnerError(ValueError):
    """A piece that its owner has cannot be handed back."""


class FormUsedError(ValueError):
    """The form was used before, for another piece."""


class HasOrderError(ValueError):
    """The piece has a work order, whose number this is, and goes back by it."""


@dataclass(frozen=True, slots=True)
class Work:
    """What our workshop did to a piece, as its history has it."""

    kind: EntryKind
    case_opened: bool
    tightness: Tightness


@transaction.atomic
def record_entry(
    piece: Piece,
    *,
    done_on: date,
    kind: EntryKind,
    case_opened: bool | None,
    tightness: Tightness,
    done_by: DoneBy,
    accepted: bool | None,
    note: str,
    by: Staff | None,
    as_of: date,
    form_key: UUID | None = None,
    corrects: HistoryEntry | None = None,
    why: str = "",
) -> HistoryEntry:
    """Add a history entry, work the due dates out anew, and end the letters whose interval is over.

    `accepted` matters for work done outside: a document was seen. A form sent twice (same `form_key`) is one entry;
    the first is given back unchanged. Raises FormUsedError where that was of another piece. `corrects` is an entry that
    no longer counts, and `why` says what was wrong with it; raises CannotVoid where it was corrected before.
    """
    locked = Piece.objects.select_for_update().get(pk=piece.pk)
    before = _recorded(form_key, locked)
    if before:
        return before
    entry = book.add_entry(
        locked,
        done_on=done_on,
        kind=kind,
        case_opened=case_opened,
        tightness=tightness,
        done_by=done_by,
        accepted=accepted,
        note=note,
        by=by,
        code=code_of(form_key),
        voids=corrects,
    )
    _follow_up(locked, entry, as_of=as_of)
    leave_trail(by=by, deed="record_entry", subject=f"piece:{locked.serial}", after=_as_trail(entry), reason=why)
    return entry


@transaction.atomic
def hand_back(
    piece: Piece,
    *,
    on: date,
    at: datetime,
    by: Staff,
    kind: EntryKind,
    case_opened: bool,
    tightness: Tightness,
    note: str,
    as_of: date,
    form_key: UUID | None = None,
) -> HistoryEntry:
    """Record the finished service of our own workshop (done `on`) and give the piece to its owner (`at`), in one go.

    A piece with a work order goes back by its order. Raises HasOrderError for one, WithItsOwnerError where the owner
    has it already, and FormUsedError; nothing is written then. Sent twice, it is one deed.
    """
    locked = Piece.objects.select_for_update().get(pk=piece.pk)
    before = _recorded(form_key, locked)
    if before:
        return before
    if order := open_order_of(locked):
        raise HasOrderError(order.number)
    entry = give_back(
        locked, work=Work(kind, case_opened=case_opened, tightness=tightness), done_on=on, at=at, by=by, note=note,
        as_of=as_of, form_key=form_key,
    )  # fmt: skip
    assert entry is not None  # there was work to record
    return entry


@transaction.atomic
def give_back(
    piece: Piece,
    *,
    work: Work | None,
    done_on: date,
    at: datetime,
    by: Staff,
    note: str,
    as_of: date,
    form_key: UUID | None,
    order: str = "",
) -> HistoryEntry | None:
    """Give a piece to its owner and record our work on it, if any. Its order, where it has one, is the caller's to close.

    Raises WithItsOwnerError; nothing is written then.
    """
    locked = Piece.objects.select_for_update().get(pk=piece.pk)
    if locked.place == Place.OWNER:
        raise WithItsOwnerError(locked.serial)
    book.move_piece(
        locked, to=Place.OWNER, boutique=None, at=at, by=by, reason=f"handed back, {order}" if order else "handed back"
    )
    if work is None:
        recompute([locked.pk], as_of=as_of)
        leave_trail(by=by, deed="hand_back", subject=f"piece:{locked.serial}", after={"order": order})
        return None
    entry = book.add_entry(
        locked,
        done_on=done_on,
        kind=work.kind,
        case_opened=work.case_opened,
        tightness=work.tightness,
        done_by=DoneBy.OWN,
        accepted=None,
        note=note,
        by=by,
        code=code_of(form_key),
    )
    _follow_up(locked, entry, as_of=as_of)
    leave_trail(by=by, deed="hand_back", subject=f"piece:{locked.serial}", after=_as_trail(entry))
    return entry


@transaction.atomic
def strike_entry(entry: HistoryEntry, *, reason: str, by: Staff | None, as_of: date) -> HistoryEntry:
    """Say that an entry's work never happened; what it started or ended follows. Raises CannotVoid if struck before."""
    locked = Piece.objects.select_for_update().get(pk=entry.piece_id)
    struck = book.strike_entry(entry, reason=reason, by=by)
    _follow_up(locked, struck, as_of=as_of)
    leave_trail(by=by, deed="strike_entry", subject=f"piece:{locked.serial}", before=_as_trail(entry), reason=reason)
    return struck


@transaction.atomic
def correct_sheet(
    wrong: TimingSheet, readings: Sequence[Reading], *, taken_on: date, why: str, by: Staff | None, as_of: date
) -> TimingSheet:
    """Write a timing sheet anew whose readings were typed wrong; none at all: the sitting was not of this piece.

    Both sheets stay, and the due dates follow the later one. Raises SheetCorrectedBeforeError and
    ImpossibleReadingsError; nothing is written then.
    """
    locked = Piece.objects.select_for_update().get(pk=wrong.piece_id)
    sheet = measurements.correct_sheet(wrong, readings, taken_on=taken_on, by=by)
    recompute([locked.pk], as_of=as_of)
    end_reminders(locked, on=as_of, because=f"readings of {wrong.taken_on.isoformat()} were corrected")
    after = {"sheet": sheet.pk, "corrects": wrong.pk, "taken_on": taken_on.isoformat(), "readings": len(readings)}
    leave_trail(by=by, deed="correct_sheet", subject=f"piece:{locked.serial}", after=after, reason=why)
    return sheet


@dataclass(frozen=True, slots=True)
class Said:
    """What the book says of a piece beside its history."""

    model: WatchModel | None
    sold_on: date | None
    use: Use | None
    status: Status


@transaction.atomic
def correct_piece(piece: Piece, said: Said, *, why: str, by: Staff, as_of: date) -> bool:
    """Write what the book says of a piece otherwise: lost, stolen, found again, another model, use or day of sale.

    The due dates follow, and letters that no longer hold end. False where the book says the same already.
    """
    locked = Piece.objects.select_for_update(of=("self",)).select_related("model").get(pk=piece.pk)
    stood = _as_said(locked)
    if said == stood:
        return False
    locked.model, locked.sold_on = said.model, said.sold_on
    locked.use, locked.status = said.use.value if said.use else "", said.status.value
    locked.save(update_fields=["model", "sold_on", "use", "status"])
    recompute([locked.pk], as_of=as_of)
    end_reminders(locked, on=as_of, because=_because(stood, said))
    before, after = _told(stood), _told(said)
    leave_trail(
        by=by,
        deed="correct_piece",
        subject=f"piece:{locked.serial}",
        before={field: value for field, value in before.items() if value != after[field]},
        after={field: value for field, value in after.items() if value != before[field]},
        reason=why,
    )
    return True


def _as_said(piece: Piece) -> Said:
    status = Status(piece.status) if piece.status else Status.IN_USE
    return Said(piece.model, piece.sold_on, Use(piece.use) if piece.use else None, status)


def _told(said: Said) -> dict[str, str]:
    return {
        "status": said.status.value,
        "use": said.use.value if said.use else "",
        "model": said.model.reference if said.model else "",
        "sold_on": said.sold_on.isoformat() if said.sold_on else "",
    }


def _because(stood: Said, said: Said) -> str:
    return f"recorded as {said.status.value}" if said.status != stood.status else "the book's word on it was corrected"


def _follow_up(piece: Piece, entry: HistoryEntry, *, as_of: date) -> None:
    recompute([piece.pk], as_of=as_of)
    end_reminders(piece, on=as_of, because=f"{entry.kind} of {entry.done_on.isoformat()} was recorded")


def code_of(form_key: UUID | None) -> str:
    """The code of the entry that a form writes; empty where there is no form, and the book makes one."""
    return f"SC-{form_key.hex}" if form_key else ""


def _recorded(form_key: UUID | None, piece: Piece) -> HistoryEntry | None:
    before = HistoryEntry.objects.filter(code=code_of(form_key)).first() if form_key else None
    if before and before.piece_id != piece.pk:
        raise FormUsedError(before.code)
    return before


def _as_trail(entry: HistoryEntry) -> dict[str, str | bool | None]:
    """What was written, without the free text, which may name people."""
    return {
        "entry": entry.code,
        "done_on": entry.done_on.isoformat(),
        "kind": entry.kind,
        "case_opened": entry.case_opened,
        "tightness": entry.tightness,
        "done_by": entry.done_by,
        "accepted": entry.accepted,
        "corrects": entry.voids.code if entry.voids else None,
    }
