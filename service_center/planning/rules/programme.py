"""The linear programme of levelling, solved by HiGHS through SciPy and proved by its own dual."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import coo_array, csr_array

from service_center.planning.rules.levelling import Numbers, Problem, arrival_matrix, week_costs, window

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
    for skill in problem.skills():
        rows = [number for number, cohort in enumerate(problem.cohorts) if cohort.skill == skill]
        cost, part = _of_one_skill(problem, skill, rows)
        objective += cost
        invited[rows] = part
    return Optimum(objective, invited)


def _of_one_skill(problem: Problem, skill: str, rows: list[int]) -> tuple[float, Numbers]:
    """Unknowns: pieces by cohort and week, pieces by week, hours over capacity by week.

    Pieces by week stand between cohorts and hours, so that a cohort's week is named in two rows and not in one for
    every week in which its owners may come.
    """
    weeks, cohorts = problem.weeks, [problem.cohorts[number] for number in rows]
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
