"""What the desk sees of the coming weeks: one table and picture a skill."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from service_center.planning.rules.arrivals import likely_range
from service_center.planning.rules.picture import Picture, SkillWeeks
from service_center.planning.showing.week_chart import Chart, chart_of
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

    @property
    def weeks_over(self) -> int:
        """In how many weeks the hours are not enough."""
        return len(_full(self.weeks))


def tables_as_planned(picture: Picture) -> list[SkillTable]:
    """The skills as invitations are planned now."""
    return [_table(picture, one, one.before) for one in picture.skills]


def tables_of_proposal(picture: Picture) -> list[SkillTable]:
    """The skills under the proposal, beside how they stand."""
    return [_table(picture, one, one.after) for one in picture.skills]


def _table(picture: Picture, one: SkillWeeks, plan: Sequence[float]) -> SkillTable:
    names, to_come = picture.week_names(), one.to_come(plan)
    overhauls = [pieces + hours / one.hours for pieces, hours in zip(one.overhauls_out, to_come, strict=True)]
    # Tightness tests of letters out take hours too: few, and no range of their own.
    tests = [hours - pieces * one.hours for hours, pieces in zip(one.letters_out, one.overhauls_out, strict=True)]
    low, high = likely_range(overhauls)
    weeks = tuple(
        Week(
            name=name,
            capacity=one.capacity[at],
            promised=one.promised[at],
            letters_out=one.letters_out[at],
            letters_to_come=to_come[at],
            low=float(low[at]) * one.hours + tests[at],
            high=float(high[at]) * one.hours + tests[at],
            before=one.before[at],
            over=max(0.0, plan[at] - one.capacity[at]),
            over_before=max(0.0, one.before[at] - one.capacity[at]),
        )
        for at, name in enumerate(names)
    )
    most = max(*one.capacity, *plan, *one.before)
    stacks = (("promised", one.promised), ("out", one.letters_out))
    return SkillTable(
        skill=one.skill,
        name=str(SKILLS[one.skill]),
        finding=_finding(weeks),
        weeks=weeks,
        chart=chart_of(names, (*stacks, ("to-come", to_come)), one.capacity, most),
        chart_before=chart_of(names, (*stacks, ("to-come", one.to_come(one.before))), one.capacity, most),
    )


def _finding(weeks: tuple[Week, ...]) -> str:
    full = _full(weeks)
    if not full:
        return _("Every week keeps within its hours.")
    worst = max(full, key=lambda week: week.over)
    return _("Over in %(n)s of %(weeks)s weeks; the worst is %(week)s, by %(hours)s hours.") % {
        "n": len(full),
        "weeks": len(weeks),
        "week": worst.name,
        "hours": f"{worst.over:.1f}",
    }


def _full(weeks: tuple[Week, ...]) -> list[Week]:
    return [week for week in weeks if week.over > NEARLY_NOTHING]
