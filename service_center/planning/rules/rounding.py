"""Whole pieces for the weeks of a plan: within one piece of the optimum for each cohort and week."""

import numpy as np

from service_center.planning.rules.levelling import Counts, Numbers, Problem, window

NEARLY = 1e-6


def whole_pieces(problem: Problem, optimum: Numbers) -> Counts:
    """Round a plan's parts of pieces so that each cohort keeps its pieces.

    What rounding one cohort takes from a week, the next one of that skill gives back, so that the hours of a week stay
    within a few pieces of the optimum. A cohort of which less than a whole piece would move stays in its planned week.
    """
    invited = np.zeros(optimum.shape, dtype=np.int64)
    owed = {skill: np.zeros(problem.weeks) for skill in problem.skills()}
    order = sorted(range(len(problem.cohorts)), key=lambda number: (problem.cohorts[number].due, number))
    for number in order:
        cohort, parts = problem.cohorts[number], optimum[number]
        owing = owed[cohort.skill]
        if cohort.planned is not None and cohort.pieces - parts[cohort.planned] < 1 - NEARLY:
            invited[number, cohort.planned] = cohort.pieces
        else:
            invited[number] = _rounded(parts, cohort.pieces, owing)
        owing += parts - invited[number]
    return invited


def _rounded(parts: Numbers, pieces: int, owing: Numbers) -> Counts:
    """Whole pieces below the parts, and those left over to the weeks that have most coming to them."""
    whole = np.floor(parts + NEARLY).astype(np.int64)
    left = pieces - int(whole.sum())
    candidates = np.flatnonzero(parts - whole > NEARLY)
    wanted = candidates[np.argsort(-(parts - whole + owing)[candidates], kind="stable")]
    whole[wanted[:left]] += 1
    short = pieces - int(whole.sum())
    if short:  # parts that the solver left a hair below whole pieces
        whole[int(np.argmax(parts))] += short
    return whole


def kept(problem: Problem) -> Counts | None:
    """The accepted plan as it stands, where every cohort has one; otherwise None."""
    if any(cohort.planned is None for cohort in problem.cohorts):
        return None
    invited = np.zeros((len(problem.cohorts), problem.weeks), dtype=np.int64)
    for number, cohort in enumerate(problem.cohorts):
        if cohort.planned not in window(cohort, problem.weeks):
            return None
        invited[number, cohort.planned] = cohort.pieces
    return invited
