"""A levelling proposal as outside.md prints it."""

from datetime import timedelta
from typing import Any

from service_center.planning.actions import Proposed
from service_center.planning.queries import Levelling
from service_center.planning.rules.days import week_counts
from service_center.planning.rules.weeks import week_name


def levelling_report(proposed: Proposed) -> dict[str, Any]:
    """The whole document. Hours over capacity, peaks and weeks are those of the plan of whole pieces."""
    found, proposal = proposed.levelling, proposed.proposal
    problem, names = found.problem, found.week_names()
    return {
        "objective": proposal.objective,
        "overload_hours": proposal.after.overload_hours,
        "peak_before": proposal.before.peak,
        "peak_after": proposal.after.peak,
        "weeks": [
            {
                "week": names[week],
                "skill": skill,
                "capacity_hours": problem.capacity[skill][week],
                "expected_hours": float(proposal.after.hours[skill][week]),
            }
            for skill in problem.skills()
            for week in range(problem.weeks)
        ],
        "problem": problem_report(found),
        "plan": [
            {
                "skill": skill,
                "due_week": name_of(found, due),
                "invite_week": names[week],
                "pieces": pieces,
            }
            for (skill, due, week), pieces in week_counts(problem.cohorts, proposal.invited.tolist()).items()
        ],
    }


def problem_report(found: Levelling) -> dict[str, Any]:
    """The levelling problem, in the open."""
    problem = found.problem
    return {
        "weeks": found.week_names(),
        "cohorts": [
            {
                "skill": cohort.skill,
                "opens_week": name_of(found, cohort.opens),
                "due_week": name_of(found, cohort.due),
                "closes_week": name_of(found, cohort.closes),
                "pieces": cohort.pieces,
                "planned_week": None if cohort.planned is None else name_of(found, cohort.planned),
            }
            for cohort in problem.cohorts
        ],
        "hours": dict(problem.hours),
        "answers": {skill: list(shares) for skill, shares in problem.answers.items()},
        "capacity": {skill: list(hours) for skill, hours in problem.capacity.items()},
        "committed": {skill: list(hours) for skill, hours in problem.committed.items()},
        "costs": {
            "early": problem.costs.early,
            "late": problem.costs.late,
            "overload_hour": problem.costs.overload_hour,
            "moved": problem.costs.moved,
        },
    }


def name_of(found: Levelling, week: int) -> str:
    """A week by its number in the horizon, before and after it too, as ISO 8601 writes it."""
    return week_name(found.horizon.first + timedelta(weeks=week))
