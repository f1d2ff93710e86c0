"""Ending reminders that have not gone out. What went out is never ended: it is a fact."""

from collections.abc import Collection, Iterable
from datetime import date, timedelta

from django.db import transaction
from django.db.models import Exists, OuterRef

from service_center.book.models import Piece
from service_center.book.rules import ServiceKind
from service_center.intervals.models import DueDate
from service_center.letters.models import Letter, Reminder
from service_center.letters.rules.steps import HOUSE_DAYS
from service_center.letters.rules.words import LetterState

# A letter that a sender has in hand is checked again before its next claim, should it come back.
NOT_GONE_OUT = (LetterState.WAITING.value, LetterState.HELD.value)


@transaction.atomic
def end_reminders(piece: Piece, *, on: date, because: str, kind: ServiceKind | None = None) -> int:
    """End the piece's reminders that have not gone out and whose interval is over, or whose piece is held.

    Asked after the due dates were recomputed: a reminder stands as long as its kind still counts from the same
    day, nobody holds the piece, and a correction has not moved it far beyond the day of its letter. Letters left without a living reminder end too. Returns how many reminders ended.
    """
    living = _lock_living(piece_ids=[piece.pk])
    if kind is not None:
        living = [reminder for reminder in living if reminder.kind == kind.value]
    if not living:
        return 0
    due = {row.kind: row for row in DueDate.objects.filter(piece=piece)}
    over = [
        reminder
        for reminder in living
        if not still_holds(reminder, row := due.get(reminder.kind)) or _comes_too_early(reminder, row)
    ]
    return end(over, on=on, because=because)


@transaction.atomic
def end_all_of(pieces: Collection[int], *, owner: int, on: date, because: str) -> int:
    """End every reminder to an owner about some pieces that has not gone out, whatever their due dates say."""
    living = [reminder for reminder in _lock_living(piece_ids=pieces) if reminder.letter.owner_id == owner]
    return end(living, on=on, because=because)


def _comes_too_early(reminder: Reminder, due: DueDate | None) -> bool:
    """Whether a fact that was corrected moved the day so far that nobody would be written to yet: it is invited anew."""
    if due is None or due.opens_on is None:
        return False
    return due.opens_on > reminder.letter.planned_on + timedelta(days=HOUSE_DAYS.travel_together)


def still_holds(reminder: Reminder, due: DueDate | None) -> bool:
    """Whether a reminder still speaks of what is due: the same interval, and nobody holds the piece."""
    return due is not None and not due.held and reminder.starts_on == due.starts_on


def end(reminders: Iterable[Reminder], *, on: date, because: str) -> int:
    """End these reminders, and the letters that they leave empty. The caller holds their letters' rows."""
    ids = [reminder.pk for reminder in reminders]
    letters = {reminder.letter_id for reminder in reminders}
    if not ids:
        return 0
    ended = Reminder.objects.filter(pk__in=ids, ended_on=None).update(ended_on=on, ended_because=because[:200])
    left = Reminder.objects.filter(letter=OuterRef("pk"), ended_on=None)
    Letter.objects.filter(~Exists(left), pk__in=letters, state__in=NOT_GONE_OUT).update(
        state=LetterState.ENDED.value, reason=because[:200]
    )
    return ended


def _lock_living(*, piece_ids: Collection[int]) -> list[Reminder]:
    """Living reminders in letters that have not gone out, with those letters' rows held until the transaction ends."""
    letters = Letter.objects.filter(
        state__in=NOT_GONE_OUT, pk__in=Reminder.objects.filter(piece__in=piece_ids, ended_on=None).values("letter")
    )
    held = list(letters.order_by("pk").select_for_update(no_key=True).values_list("pk", flat=True))
    return list(
        Reminder.objects.filter(piece__in=piece_ids, ended_on=None, letter__in=held)
        .select_related("letter")
        .order_by("pk")
    )
