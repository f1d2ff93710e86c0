"""Bench hours that the house has, and that its overhauls take."""

from collections import Counter
from collections.abc import Mapping
from datetime import date

from service_center.book.rules import Complexity, EntryKind
from service_center.planning.models import OverhaulHours, SkillHours
from service_center.planning.rules.bench_hours import WAIT_WEEKS, Benches, capacity_by_week, within_reach
from service_center.workshop.calendars.queries import hours_by_week_and_skill
from service_center.workshop.orders.queries.open_orders import open_orders, overhaul_minutes, own_times
from service_center.workshop.orders.rules.operations import Operation, Time, times_for


def hours_by_skill() -> dict[str, float]:
    """Bench hours of an overhaul: what the house wrote for planning, otherwise what its standard minutes add up to.

    Two statements.
    """
    own = {skill: float(hours) for skill, hours in OverhaulHours.objects.values_list("skill", "hours")}
    minutes = overhaul_minutes()
    return {skill.value: own.get(skill.value, minutes[skill] / 60) for skill in Complexity}


def benches_by_skill() -> dict[str, Benches]:
    """Bench hours a week of each skill that has some. One statement."""
    rows = SkillHours.objects.filter(hours_a_week__isnull=False).values_list("skill", "hours_a_week", "in_force_from")
    return {skill: Benches(float(hours), since) for skill, hours, since in rows if hours is not None}


def check_hours_by_skill() -> dict[str, float]:
    """Bench hours of a tightness check, for the skills whose time the house has written into its table. One statement.

    Without that a check costs the benches nothing: common practice tests at the counter.
    """
    own = own_times()
    written = {skill for kind, skill, _operation in own if kind is EntryKind.TIGHTNESS_CHECK}
    hours = {skill.value: _minutes(EntryKind.TIGHTNESS_CHECK, skill, own) / 60 for skill in written}
    return {skill: number for skill, number in hours.items() if number}


def hours_in_orders() -> dict[str, float]:
    """Bench hours that the open orders still take, by skill. Two statements."""
    left: Counter[str] = Counter()
    for order in open_orders():
        left[order.complexity.value] += order.minutes_left
    return {skill: minutes / 60 for skill, minutes in left.items()}


def _minutes(kind: EntryKind, skill: Complexity, own: Mapping[tuple[EntryKind, Complexity, Operation], Time]) -> int:
    return sum(time.minutes for time in times_for(kind, skill, own, rated=True).values())


def capacity_by_skill(first: date, weeks: int) -> dict[str, list[float]]:
    """Bench hours of so many weeks from the Monday `first` on, for each skill that has benches. Nine statements at most.

    By the watchmakers' calendars, within reach of orders that arrive in a week; where no watchmaker has a skill in these
    weeks, by the hours of skills.csv.
    """
    written = {skill: capacity_by_week(benches, first, weeks) for skill, benches in benches_by_skill().items()}
    of_calendars = hours_by_week_and_skill(first, weeks + WAIT_WEEKS)
    return written | {skill: within_reach(hours) for skill, hours in of_calendars.items()}
