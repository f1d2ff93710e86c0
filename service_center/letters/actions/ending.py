"""Ending reminders that have not gone out. What went out is never ended: it is a fact."""

from collections.abc import Collection, Iterable
from datetime import date, timedelta
from typing import Protocol

from django.db import transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet

from service_center.book.models import Piece
from service_center.book.rules import ServiceKind
from service_center.intervals.models import DueDate
from service_center.letters.models import Letter, Reminder
from service_center.letters.rules.bounces import BY_REPORT
from service_center.letters.rules.steps import HOUSE_DAYS
from service_center.letters.rules.words import LetterState

# One that was refused reached nobody. A letter that a sender has in hand, or that is in doubt, is checked again before
# its next claim, should it come to that.
NOT_GONE_OUT = (LetterState.WAITING.value, LetterState.HELD.value, LetterState.REFUSED.value)
# Word that is overtaken ends in a sender's hands too: the sender asks for its letter once more before the end of the
# message (settling.commit_the_dot), and hangs up.
BEFORE_THE_DOT = (*NOT_GONE_OUT, LetterState.HANDING_OVER.value)


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


def end_of_others(letter: int, *, on: date) -> int:
    """End what a letter that was refused reminds of pieces that changed hands while it was on its way.

    It told nobody, and while it lives no round would write to whoever has the piece now.
    """
    theirs = Reminder.objects.filter(letter=letter, ended_on=None, letter__state=LetterState.REFUSED)
    return end(theirs.exclude(piece__owner=F("letter__owner")), on=on, because="belongs to somebody else now")


def end_words(words: QuerySet[Letter], *, because: str) -> int:
    """End word about a visit or an order that has not gone out: it is no longer so. How many ended.

    What is at the dot, or in doubt, may be out; the claim asks again before it goes once more (queries.overtaken).
    """
    # By key: a row that a sender changes meanwhile is looked at again as it is then.
    ids = list(words.order_by("pk").values_list("pk", flat=True))
    return Letter.objects.filter(pk__in=ids, state__in=BEFORE_THE_DOT).update(
        state=LetterState.ENDED.value, lease_until=None, reason=because
    )


class Spoken(Protocol):
    """A reminder, or its values."""

    @property
    def starts_on(self) -> date: ...


class Counting(Protocol):
    """What counts now for one kind of a piece, as a due date's row has it."""

    @property
    def held(self) -> str: ...

    @property
    def starts_on(self) -> date | None: ...


def still_holds(reminder: Spoken, due: Counting | None) -> bool:
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
    # Where reports alone say that it was refused, a later one may prove that it arrived: it stays what they make of it.
    by_reports = Q(state=LetterState.REFUSED, reason=BY_REPORT)
    Letter.objects.filter(~Exists(left), ~by_reports, pk__in=letters, state__in=NOT_GONE_OUT).update(
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
