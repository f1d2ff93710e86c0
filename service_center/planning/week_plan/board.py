"""The week's plan as the desk reads it: watchmakers by days."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from service_center.planning.week_plan.models import WeekPlan
from service_center.planning.week_plan.queries import DAYS_OF_A_WEEK, Row, lines_in_order, rows_of
from service_center.planning.week_plan.words import WHY, minutes_in_words, work_in_words
from service_center.workshop.calendars.models import Watchmaker
from service_center.workshop.calendars.queries import minutes_by_day

MOST_LATE = 12


@dataclass(frozen=True, slots=True)
class Entry:
    """A stretch in words."""

    row: Row
    work: str
    time: str

    @property
    def because(self) -> str:
        return str(WHY[self.row.against]) if self.row.against else ""  # type: ignore[index]


@dataclass(frozen=True, slots=True)
class Day:
    """One watchmaker's day: its work in order, minutes planned and minutes there are."""

    day: date
    entries: Sequence[Entry]
    planned: int
    there: int

    @property
    def hours(self) -> str:
        return f"{minutes_in_words(self.planned)} / {minutes_in_words(self.there)}"

    @property
    def over(self) -> bool:
        return self.planned > self.there


@dataclass(frozen=True, slots=True)
class BenchWeek:
    """One watchmaker's week."""

    id: int
    name: str
    days: Sequence[Day]

    @property
    def planned(self) -> str:
        return minutes_in_words(sum(day.planned for day in self.days))

    @property
    def there(self) -> str:
        return minutes_in_words(sum(day.there for day in self.days))

    @property
    def is_empty(self) -> bool:
        return not any(day.entries for day in self.days)


@dataclass(frozen=True, slots=True)
class Board:
    """The whole week, the fixed lines that could not be kept, and the orders worked on after their promised day."""

    days: Sequence[date]
    benches: Sequence[BenchWeek]
    not_kept: Sequence[tuple[Entry, str]]
    late: Sequence[Row]

    @property
    def late_shown(self) -> Sequence[Row]:
        return self.late[:MOST_LATE]

    @property
    def late_more(self) -> int:
        return max(0, len(self.late) - MOST_LATE)


def board_of(plan: WeekPlan | None, monday: date) -> Board:
    """The benches of a week with what the plan gives them. Ten statements at most."""
    people = minutes_by_day(monday, DAYS_OF_A_WEEK)
    names = {one.id: one.name for one in people}
    there = {(one.id, monday + timedelta(days=at)): m for one in people for at, m in enumerate(one.minutes)}
    rows = rows_of(lines_in_order(plan)) if plan else []
    if missing := {row.watchmaker for row in rows} - set(names):  # who left the house since
        names |= dict(Watchmaker.objects.filter(pk__in=missing).values_list("pk", "name"))
    at: dict[tuple[int, date], list[Entry]] = defaultdict(list)
    for row in rows:
        if not row.against:
            at[row.watchmaker, row.day].append(_entry(row))
    days = sorted({day for (_who, day), minutes in there.items() if minutes} | {day for _who, day in at})
    benches = [
        BenchWeek(pk, name, [_day(day, at.get((pk, day), []), there.get((pk, day), 0)) for day in days])
        for pk, name in sorted(names.items(), key=lambda one: (one[1], one[0]))
    ]
    late = {row.number: row for row in rows if row.late and not row.done and not row.against}
    not_kept = [(_entry(row), names[row.watchmaker]) for row in rows if row.against]
    return Board(days, benches, not_kept, sorted(late.values(), key=_promise))


def _promise(row: Row) -> tuple[date, str]:
    return (row.promised_on or date.max, row.number)


def _day(day: date, entries: list[Entry], there: int) -> Day:
    return Day(day, entries, sum(entry.row.minutes for entry in entries), there)


def _entry(row: Row) -> Entry:
    return Entry(row, work_in_words(row.operations, row.part, row.parts), minutes_in_words(row.minutes))
