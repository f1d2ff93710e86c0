"""In which weeks to invite, so that expected bench hours fit the benches. Source: design/outside.md, the levelling problem.

Cohorts are the variables, not pieces: the size of the problem does not grow with the book. Skills share nothing, so
each is a linear programme of its own. Weeks are numbers from 0, the first of the horizon.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from service_center.letters.rules.steps import HOUSE_DAYS

Numbers = NDArray[np.float64]
Counts = NDArray[np.int64]

# Beyond closes there is no week to choose from: whoever is past it is invited within a year from now.
CATCH_UP_WEEKS = HOUSE_DAYS.catch_up // 7


@dataclass(frozen=True, slots=True)
class Cohort:
    """Pieces of one skill with the same weeks; `planned` is the week of the accepted plan, within the horizon."""

    skill: str
    opens: int
    due: int
    closes: int
    pieces: int
    planned: int | None = None


@dataclass(frozen=True, slots=True)
class Costs:
    """Of a piece a week early, a week late, an hour over capacity, and a piece that leaves its planned week.

    An hour over capacity outweighs any wait: it is chosen only where no week within a piece's window is free.
    """

    early: float = 1.0
    late: float = 3.0
    overload_hour: float = 10_000.0
    moved: float = 0.25


@dataclass(frozen=True, slots=True)
class Problem:
    """Everything that the plan depends on. Every cohort's window (`window`) has at least one week."""

    weeks: int
    cohorts: Sequence[Cohort]
    hours: Mapping[str, float]
    answers: Mapping[str, Sequence[float]]
    capacity: Mapping[str, Sequence[float]]
    committed: Mapping[str, Sequence[float]]
    costs: Costs = field(default_factory=Costs)

    def skills(self) -> list[str]:
        """The skills with capacity, in the order given."""
        return list(self.capacity)


def window(cohort: Cohort, weeks: int) -> range:
    """The weeks of the horizon in which the cohort may be invited. Raises ValueError where there is none."""
    found = range(max(cohort.opens, 0), min(cohort.closes, weeks - 1) + 1)
    if not found:
        raise ValueError(f"no week of the horizon lies between opens and closes: {cohort}")
    return found


def closes_for_planning(opens: int, closes: int) -> int:
    """The last week of a cohort's window: closes, or a year from now where that is past already."""
    return closes if closes >= 0 else max(opens, 0) + CATCH_UP_WEEKS - 1


def week_costs(cohort: Cohort, weeks: int, costs: Costs) -> Numbers:
    """What one piece costs in each week of the cohort's window."""
    at = np.arange(window(cohort, weeks).start, window(cohort, weeks).stop)
    cost = costs.early * np.maximum(cohort.due - at, 0) + costs.late * np.maximum(at - cohort.due, 0)
    if cohort.planned is not None:
        cost = cost + costs.moved * (at != cohort.planned)
    return cost.astype(np.float64)


def arrival_matrix(weeks: int, hours: float, answers: Sequence[float]) -> Numbers:
    """Hours expected in week (row) of one piece invited in week (column); what comes after the horizon is left out."""
    matrix = np.zeros((weeks, weeks))
    for after, share in enumerate(answers[:weeks]):
        matrix[np.arange(after, weeks), np.arange(weeks - after)] = hours * share
    return matrix


@dataclass(frozen=True, slots=True)
class Plan:
    """Pieces of each cohort by week (cohorts x weeks), in the order of the problem's cohorts."""

    invited: Counts


@dataclass(frozen=True, slots=True)
class Standing:
    """What a plan, whole or not, comes to: cost, hours by skill and week, weeks early and late over all pieces."""

    cost: float
    hours: dict[str, Numbers]
    overload_hours: float
    peak: float
    weeks_early: float
    weeks_late: float
    moved: float


def standing(problem: Problem, invited: NDArray[np.generic]) -> Standing:
    """Weigh a plan (cohorts x weeks) by the problem's own costs. `peak` is the fullest week of any skill, in hours."""
    at = np.arange(problem.weeks)
    amount = np.asarray(invited, dtype=np.float64)
    due = np.array([cohort.due for cohort in problem.cohorts]).reshape(-1, 1)
    early = float((amount * np.maximum(due - at, 0)).sum())
    late = float((amount * np.maximum(at - due, 0)).sum())
    moved = sum(
        float(row.sum() - row[cohort.planned])
        for cohort, row in zip(problem.cohorts, amount, strict=True)
        if cohort.planned is not None
    )
    hours: dict[str, Numbers] = {}
    over = 0.0
    for skill in problem.skills():
        rows = [number for number, cohort in enumerate(problem.cohorts) if cohort.skill == skill]
        arrive = arrival_matrix(problem.weeks, problem.hours[skill], problem.answers[skill])
        hours[skill] = np.asarray(problem.committed[skill]) + arrive @ amount[rows].sum(axis=0)
        over += float(np.maximum(hours[skill] - np.asarray(problem.capacity[skill]), 0).sum())
    costs = problem.costs
    return Standing(
        cost=costs.early * early + costs.late * late + costs.moved * moved + costs.overload_hour * over,
        hours=hours,
        overload_hours=over,
        peak=max((float(one.max()) for one in hours.values()), default=0.0),
        weeks_early=early,
        weeks_late=late,
        moved=moved,
    )


def without_levelling(problem: Problem, before_due: int) -> Counts:
    """The plan as it stands: planned weeks where there are some, otherwise so many weeks before due, in the window."""
    invited = np.zeros((len(problem.cohorts), problem.weeks), dtype=np.int64)
    for number, cohort in enumerate(problem.cohorts):
        allowed = window(cohort, problem.weeks)
        week = cohort.due - before_due if cohort.planned is None else cohort.planned
        invited[number, min(max(week, allowed.start), allowed.stop - 1)] = cohort.pieces
    return invited
