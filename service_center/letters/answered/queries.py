"""What owners answered to the letters of a time, by kind, step and month."""

from collections import Counter
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import TypeVar

from django.db.models import Count as CountRows
from django.db.models import OuterRef, Q, Subquery

from service_center.book.rules import ServiceKind
from service_center.letters.answered.models import AnswersCounted, AnswersOfDay
from service_center.letters.models import Answer, Reminder
from service_center.letters.queries.coming import room_to_work
from service_center.letters.rules.words import AnswerChoice, LetterState, Step

# Above this a page does not count itself; what the hourly task counted holds until the next day's.
SLOW_SECONDS = 0.2
KEPT_FOR = timedelta(hours=26)


@dataclass(frozen=True, slots=True)
class Count:
    """So many reminders of the letters planned on a day went out and had this for their latest answer; None: none."""

    planned_on: date
    kind: ServiceKind
    step: Step
    choice: AnswerChoice | None
    number: int


@dataclass(slots=True)
class Answered:
    """Of some reminders that went out: how many, and how many were answered which way; the latest word counts."""

    sent: int = 0
    by_choice: Counter[AnswerChoice] = field(default_factory=Counter)

    @property
    def answered(self) -> int:
        return self.by_choice.total()

    @property
    def open(self) -> int:
        """Not answered."""
        return self.sent - self.answered

    @property
    def rate(self) -> float:
        """The share that was answered, in percent."""
        return 100 * self.answered / self.sent if self.sent else 0.0


@dataclass(frozen=True, slots=True)
class AnswerTables:
    """The same reminders twice: by kind and step, and by month. `counted_at`: when, None for just now."""

    by_step: dict[tuple[ServiceKind, Step], Answered]
    by_month: dict[date, Answered]
    all: Answered
    counted_at: datetime | None = None


def answer_tables(first: date, last: date, *, now: datetime) -> AnswerTables:
    """Answers to the letters that were planned from one day to another and went out. Two statements.

    Of a book that takes long to count, what the hourly task kept (actions.count_answers).
    """
    kept = AnswersCounted.objects.filter(made_at__gt=now - KEPT_FOR).order_by("-pk").first()
    slow = kept is not None and kept.seconds > SLOW_SECONDS
    counts = _kept(kept, first, last) if kept and slow else counts_by_day((first, last))
    by_step = _table(counts, lambda one: (one.kind, one.step))
    steps = list(Step)
    return AnswerTables(
        dict(sorted(by_step.items(), key=lambda one: (one[0][0].value, steps.index(one[0][1])))),
        dict(sorted(_table(counts, lambda one: one.planned_on.replace(day=1)).items(), reverse=True)),
        _table(counts, lambda _one: 0).get(0, Answered()),
        kept.made_at if kept and slow else None,
    )


def counts_by_day(planned_on: tuple[date, date] | None = None) -> list[Count]:
    """The reminders that went out, of letters planned from one day to another or ever, with their latest answer. One statement."""
    said = Answer.objects.filter(Q(piece=OuterRef("piece")) | Q(piece=None), letter=OuterRef("letter")).order_by("-pk")
    rows = Reminder.objects.filter(letter__state=LetterState.SENT, ended_on=None)
    if planned_on:
        rows = rows.filter(letter__planned_on__range=planned_on)
    grouped = (
        rows.annotate(choice=Subquery(said.values("choice")[:1]))
        .order_by()
        .values_list("letter__planned_on", "kind", "step", "choice")
        .annotate(n=CountRows("pk"))
    )
    with room_to_work():
        return [_count(*row) for row in grouped]


def _kept(counted: AnswersCounted, first: date, last: date) -> list[Count]:
    """What was counted for some days, summed by month, as on its first day: so the page has hundreds to look at, not ten thousand."""
    days = AnswersOfDay.objects.filter(counted=counted, planned_on__range=(first, last))
    sums: Counter[tuple[date, str, str, str]] = Counter()
    for day, counts in days.values_list("planned_on", "counts"):
        month = day.replace(day=1)
        for kind, step, choice, number in counts:
            sums[month, kind, step, choice] += number
    return [_count(*of_month, number) for of_month, number in sums.items()]


def _count(planned_on: date, kind: str, step: str, choice: str | None, number: int) -> Count:
    return Count(planned_on, ServiceKind(kind), Step(step), AnswerChoice(choice) if choice else None, number)


Key = TypeVar("Key", bound=Hashable)


def _table(counts: list[Count], key_of: Callable[[Count], Key]) -> dict[Key, Answered]:
    table: dict[Key, Answered] = {}
    for one in counts:
        answered = table.setdefault(key_of(one), Answered())
        answered.sent += one.number
        if one.choice:
            answered.by_choice[one.choice] += one.number
    return table
