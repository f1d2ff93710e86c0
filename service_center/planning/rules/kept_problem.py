"""A levelling problem as plain values that the database can keep, so that a what-if need not read the book again."""

from collections.abc import Mapping
from dataclasses import asdict, astuple
from typing import Any

from service_center.planning.rules.levelling import Cohort, Costs, Problem
from service_center.planning.rules.picture import Out


def keep(problem: Problem, out: Out, accepted_gap: float | None) -> dict[str, Any]:
    """For the database."""
    return {
        "weeks": problem.weeks,
        "cohorts": [list(astuple(cohort)) for cohort in problem.cohorts],
        "hours": dict(problem.hours),
        "answers": dict(problem.answers),
        "capacity": dict(problem.capacity),
        "committed": dict(problem.committed),
        "costs": asdict(problem.costs),
        "out": {**asdict(out), "letters": {}},
        "accepted_gap": accepted_gap,
    }


def take_up(kept: Mapping[str, Any]) -> tuple[Problem, Out, float | None]:
    """From the database."""
    problem = Problem(
        weeks=kept["weeks"],
        cohorts=[Cohort(*one) for one in kept["cohorts"]],
        hours=kept["hours"],
        answers=kept["answers"],
        capacity=kept["capacity"],
        committed=kept["committed"],
        costs=Costs(**kept["costs"]),
    )
    return problem, Out(**kept["out"]), kept["accepted_gap"]
