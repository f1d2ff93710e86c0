"""The weeks to come, by working day: what comes up on a weekend goes out on the Monday after it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

WORKING_DAYS = 5


@dataclass(frozen=True, slots=True)
class WorkingDay:
    """One working day, and what comes up on it or on the free days right before it (`first` is the first of them)."""

    day: date
    first: date
    count: int


@dataclass(frozen=True, slots=True)
class Week:
    """One week from Monday, as far as it is ahead: None for working days that have passed."""

    monday: date
    slots: tuple[WorkingDay | None, ...]

    @property
    def days(self) -> list[WorkingDay]:
        """The working days ahead."""
        return [day for day in self.slots if day]

    @property
    def count(self) -> int:
        """All of the week."""
        return sum(day.count for day in self.days)


def weeks_ahead(first: date, weeks: int, counts: Mapping[date, int]) -> list[Week]:
    """So many weeks from the one of the first day. Holidays are each owner's own and are left to the round."""
    monday = first - timedelta(days=first.weekday())
    return [_week(monday + timedelta(weeks=number), first, counts) for number in range(weeks)]


def _week(monday: date, first: date, counts: Mapping[date, int]) -> Week:
    slots: list[WorkingDay | None] = []
    for offset in range(WORKING_DAYS):
        day = monday + timedelta(days=offset)
        if day < first:
            slots.append(None)
            continue
        begins = max(first, day - timedelta(days=2)) if offset == 0 else day
        free = [begins + timedelta(days=n) for n in range((day - begins).days + 1)]
        slots.append(WorkingDay(day, begins, sum(counts.get(one, 0) for one in free)))
    return Week(monday, tuple(slots))
