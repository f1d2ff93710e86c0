"""What owners answered to the letters of a time, by kind, step and month."""

from collections import Counter
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from datetime import date
from typing import TypeVar

from django.db.models import Count, OuterRef, Q, Subquery
from django.db.models.functions import TruncMonth

from service_center.book.rules import ServiceKind
from service_center.letters.models import Answer, Reminder
from service_center.letters.rules.words import AnswerChoice, LetterState, Step


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
    """The same reminders twice: by kind and step, and by month."""

    by_step: dict[tuple[ServiceKind, Step], Answered]
    by_month: dict[date, Answered]
    all: Answered


def answer_tables(first: date, last: date) -> AnswerTables:
    """Answers to the letters that were planned from one day to another and went out. One statement."""
    said = Answer.objects.filter(Q(piece=OuterRef("piece")) | Q(piece=None), letter=OuterRef("letter")).order_by("-pk")
    rows = (
        Reminder.objects.filter(letter__state=LetterState.SENT, letter__planned_on__range=(first, last), ended_on=None)
        .annotate(month=TruncMonth("letter__planned_on"), choice=Subquery(said.values("choice")[:1]))
        .order_by()
        .values_list("month", "kind", "step", "choice")
        .annotate(n=Count("pk"))
    )
    counted = [
        (month, (ServiceKind(kind), Step(step)), AnswerChoice(choice) if choice else None, number)
        for month, kind, step, choice, number in rows
    ]
    by_step = _table(counted, lambda row: row[1])
    steps = list(Step)
    return AnswerTables(
        dict(sorted(by_step.items(), key=lambda one: (one[0][0].value, steps.index(one[0][1])))),
        dict(sorted(_table(counted, lambda row: row[0]).items(), reverse=True)),
        _table(counted, lambda _row: 0).get(0, Answered()),
    )


Key = TypeVar("Key", bound=Hashable)
_Row = tuple[date, tuple[ServiceKind, Step], AnswerChoice | None, int]


def _table(rows: list[_Row], key_of: Callable[[_Row], Key]) -> dict[Key, Answered]:
    table: dict[Key, Answered] = {}
    for row in rows:
        one = table.setdefault(key_of(row), Answered())
        *_key, choice, number = row
        one.sent += number
        if choice:
            one.by_choice[choice] += number
    return table
