"""The linear programme of levelling, solved by HiGHS through SciPy and proved by its own dual."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import coo_array, csr_array

from service_center.planning.rules.levelling import Cohort, Numbers, Problem, arrival_matrix, week_costs, window

RELATIVE_GAP = 1e-6


class NotOptimal(Exception):  # noqa: N818  # what happened, in words
    """The solver gave no proven optimum; nothing of its answer is used."""


@dataclass(frozen=True, slots=True)
class Optimum:
    """The minimum, and the pieces of each cohort by week that reach it (cohorts x weeks, parts of pieces)."""

    objective: float
    invited: Numbers


def optimum(problem: Problem) -> Optimum:
    """The cheapest weeks for every cohort. Raises NotOptimal where the solver cannot prove its answer."""
    invited = np.zeros((len(problem.cohorts), problem.weeks))
    objective = 0.0
    alike = _alike(problem)
    for skill in problem.skills():
        groups = [one for one in alike if one.skill == skill]
        cost, parts = _of_one_skill(problem, skill, groups)
        objective += cost
        for group, part in zip(groups, parts, strict=True):
            members = alike[group]
            objective += sum(_beyond_window(problem, problem.cohorts[number], group) for number in members)
            invited[members] = _shared_out(part, [problem.cohorts[number].pieces for number in members])
    return Optimum(objective, invited)


def _alike(problem: Problem) -> dict[Cohort, list[int]]:
    """Cohorts that differ only before or after the weeks to choose from, as one: their number in order of due.

    Whatever week such a cohort gets, the way from its due week to the window costs the same.
    """
    groups: dict[tuple[str, int, int, int, int | None], list[int]] = defaultdict(list)
    for number in sorted(range(len(problem.cohorts)), key=lambda at: (problem.cohorts[at].due, at)):
        one = problem.cohorts[number]
        allowed = window(one, problem.weeks)
        due = min(max(one.due, allowed.start), allowed.stop - 1)
        groups[one.skill, allowed.start, due, allowed.stop - 1, one.planned].append(number)
    return {
        Cohort(skill, opens, due, closes, sum(problem.cohorts[at].pieces for at in members), planned): members
        for (skill, opens, due, closes, planned), members in groups.items()
    }


def _beyond_window(problem: Problem, cohort: Cohort, group: Cohort) -> float:
    """What the way between a cohort's due week and its window costs, whichever week is chosen."""
    costs = problem.costs
    weeks = costs.early * max(cohort.due - group.due, 0) + costs.late * max(group.due - cohort.due, 0)
    return weeks * cohort.pieces


def _shared_out(part: Numbers, pieces: Sequence[int]) -> Numbers:
    """The weeks of cohorts that are alike: those that come first in order have the earliest."""
    upto = np.concatenate([[0.0], np.cumsum(part)])
    ends = np.concatenate([[0.0], np.cumsum(np.asarray(pieces, dtype=np.float64))])
    ends *= upto[-1] / ends[-1]  # the solver's sum is a hair off
    lower = np.maximum(ends[:-1, None], upto[None, :-1])
    upper = np.minimum(ends[1:, None], upto[None, 1:])
    return np.maximum(upper - lower, 0)


def _of_one_skill(problem: Problem, skill: str, cohorts: Sequence[Cohort]) -> tuple[float, Numbers]:
    """Unknowns: pieces by cohort and week, pieces by week, hours over capacity by week.

    Pieces by week stand between cohorts and hours, so that a cohort's week is named in two rows and not in one for
    every week in which its owners may come.
    """
    weeks = problem.weeks
    windows = [window(cohort, weeks) for cohort in cohorts]
    sizes = np.array([len(one) for one in windows], dtype=np.int64)
    places = int(sizes.sum())
    cohort_at = np.repeat(np.arange(len(cohorts)), sizes)
    week_at = (
        np.concatenate([np.arange(one.start, one.stop) for one in windows]) if windows else np.array([], dtype=int)
    )
    every_week = np.arange(weeks)
    arrive = csr_array(arrival_matrix(weeks, problem.hours[skill], problem.answers[skill])).tocoo()

    cost = np.concatenate(
        [*(week_costs(cohort, weeks, problem.costs) for cohort in cohorts), np.zeros(weeks),
         np.full(weeks, problem.costs.overload_hour)]
    )  # fmt: skip
    wholly = coo_array(
        (
            np.concatenate([np.ones(places), np.ones(places), -np.ones(weeks)]),
            (
                np.concatenate([cohort_at, len(cohorts) + week_at, len(cohorts) + every_week]),
                np.concatenate([np.arange(places), np.arange(places), places + every_week]),
            ),
        ),
        shape=(len(cohorts) + weeks, places + 2 * weeks),
    )
    planned = np.concatenate([np.array([cohort.pieces for cohort in cohorts], dtype=float), np.zeros(weeks)])
    within = coo_array(
        (
            np.concatenate([arrive.data, -np.ones(weeks)]),
            (
                np.concatenate([arrive.coords[0], every_week]),
                np.concatenate([places + arrive.coords[1], places + weeks + every_week]),
            ),
        ),
        shape=(weeks, places + 2 * weeks),
    )
    room = np.asarray(problem.capacity[skill], dtype=float) - np.asarray(problem.committed[skill], dtype=float)
    found = linprog(cost, A_ub=within.tocsr(), b_ub=room, A_eq=wholly.tocsr(), b_eq=planned, method="highs")
    if found.status != 0:
        raise NotOptimal(f"{skill}: {found.message}")
    # Every unknown is bounded by zero alone, so the dual's value is that of its two sides.
    dual = float(room @ found.ineqlin.marginals + planned @ found.eqlin.marginals)
    short = float(cost @ found.x) - dual
    astray = max(
        float(np.abs(wholly @ found.x - planned).max(initial=0)), float((within @ found.x - room).max(initial=0))
    )
    if abs(short) > RELATIVE_GAP * max(1.0, abs(dual)) or astray > RELATIVE_GAP * max(1.0, float(planned.max())):
        raise NotOptimal(f"{skill}: the answer is {short:g} from its bound and {astray:g} outside its limits")
    invited = np.zeros((len(cohorts), weeks))
    invited[cohort_at, week_at] = np.maximum(found.x[:places], 0)
    return float(found.fun), invited
