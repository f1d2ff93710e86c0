"""Which piece of a cohort is invited in which of its weeks, and on which day of it."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from service_center.planning.rules.levelling import Cohort
from service_center.planning.rules.weeks import WORKING_DAYS, monday_at


class Places:
    """Hands out the weeks of a plan: ask for each piece in order, those due first (design/workshop.md, levelling)."""

    def __init__(self, cohorts: Sequence[Cohort], invited: Sequence[Sequence[int]]) -> None:
        self._left: dict[Cohort, list[list[int]]] = {
            _key(cohort): [[week, int(number)] for week, number in enumerate(row) if number]
            for cohort, row in zip(cohorts, invited, strict=True)
        }
        self._turn = 0

    def next_week(self, cohort: Cohort) -> int:
        """The next free week of a cohort, the earliest first. Raises IndexError when all its pieces have theirs."""
        weeks = self._left[_key(cohort)]
        while not weeks[0][1]:
            weeks.pop(0)
        weeks[0][1] -= 1
        return weeks[0][0]

    def day_in(self, week: int, *, first: date, as_of: date, opens_on: date, closes_on: date) -> date:
        """A working day of the week, one after the other; neither before opens or the day it is, nor after closes."""
        monday = monday_at(week, first)
        self._turn += 1
        day = monday + timedelta(days=self._turn % WORKING_DAYS)
        if closes_on >= monday:
            day = min(day, closes_on)
        return max(day, as_of, opens_on)


def _key(cohort: Cohort) -> Cohort:
    return Cohort(cohort.skill, cohort.opens, cohort.due, cohort.closes, 0, cohort.planned)


def week_counts(cohorts: Sequence[Cohort], invited: Sequence[Sequence[int]]) -> Mapping[tuple[str, int, int], int]:
    """Pieces by skill, due week and invited week."""
    counts: dict[tuple[str, int, int], int] = {}
    for cohort, row in zip(cohorts, invited, strict=True):
        for week, number in enumerate(row):
            if number:
                key = (cohort.skill, cohort.due, week)
                counts[key] = counts.get(key, 0) + int(number)
    return dict(sorted(counts.items()))
