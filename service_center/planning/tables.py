"""What the desk sees of a levelling problem and its proposal: one table and picture a skill."""

from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _

from service_center.planning.actions import Proposed
from service_center.planning.chart import Chart, chart_of
from service_center.planning.queries import Levelling
from service_center.planning.rules.arrivals import likely_range
from service_center.planning.rules.levelling import Standing
from service_center.planning.wording import SKILLS

NEARLY_NOTHING = 0.5


@dataclass(frozen=True, slots=True)
class Week:
    """One week of one skill, in bench hours. `over`: by how much they exceed what there is.

    `low` and `high`: what all letters together bring, in nine of ten weeks more and in nine of ten less.
    """

    name: str
    capacity: float
    promised: float
    letters_out: float
    letters_to_come: float
    low: float
    high: float
    before: float
    over: float
    over_before: float


@dataclass(frozen=True, slots=True)
class SkillTable:
    """One skill: its weeks, its pictures, and what the desk should see first."""

    skill: str
    name: str
    finding: str
    weeks: tuple[Week, ...]
    chart: Chart
    chart_before: Chart


def skill_tables(found: Levelling, plan: Standing, before: Standing) -> list[SkillTable]:
    """The skills under a plan, beside how they stood before it."""
    return [_table(found, skill, plan, before) for skill in found.problem.skills()]


def proposal_tables(proposed: Proposed) -> list[SkillTable]:
    """The skills under a proposal."""
    return skill_tables(proposed.levelling, proposed.proposal.after, proposed.proposal.before)


def _table(found: Levelling, skill: str, plan: Standing, before: Standing) -> SkillTable:
    capacity, names = found.problem.capacity[skill], found.week_names()
    committed = np.asarray(found.problem.committed[skill])
    to_come, to_come_before = plan.hours[skill] - committed, before.hours[skill] - committed
    hours, out = found.problem.hours[skill], np.asarray(found.from_letters_out[skill])
    low, high = likely_range((out + np.maximum(to_come, 0)) / hours)
    weeks = tuple(
        Week(
            name=name,
            capacity=capacity[at],
            promised=found.promised[skill][at],
            letters_out=found.from_letters_out[skill][at],
            letters_to_come=float(to_come[at]),
            low=float(low[at]) * hours,
            high=float(high[at]) * hours,
            before=float(before.hours[skill][at]),
            over=max(0.0, float(plan.hours[skill][at]) - capacity[at]),
            over_before=max(0.0, float(before.hours[skill][at]) - capacity[at]),
        )
        for at, name in enumerate(names)
    )
    most = float(max(*capacity, plan.hours[skill].max(), before.hours[skill].max()))
    stacks = (("promised", found.promised[skill]), ("out", found.from_letters_out[skill]))
    return SkillTable(
        skill=skill,
        name=str(SKILLS[skill]),
        finding=_finding(weeks),
        weeks=weeks,
        chart=chart_of(names, (*stacks, ("to-come", to_come.tolist())), capacity, most),
        chart_before=chart_of(names, (*stacks, ("to-come", to_come_before.tolist())), capacity, most),
    )


def _finding(weeks: tuple[Week, ...]) -> str:
    full = [week for week in weeks if week.over > NEARLY_NOTHING]
    if not full:
        return _("Every week keeps within its hours.")
    worst = max(full, key=lambda week: week.over)
    return _("Over in %(n)s of %(weeks)s weeks; the worst is %(week)s, by %(hours)s hours.") % {
        "n": len(full),
        "weeks": len(weeks),
        "week": worst.name,
        "hours": f"{worst.over:.1f}",
    }
