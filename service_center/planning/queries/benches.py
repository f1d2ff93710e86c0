"""Bench hours that the house has, and that its overhauls take."""

from datetime import date

from service_center.book.rules import Complexity
from service_center.planning.models import OverhaulHours, SkillHours
from service_center.planning.rules.bench_hours import HOUSE_HOURS, WAIT_WEEKS, Benches, capacity_by_week, within_reach
from service_center.workshop.calendars.queries import hours_by_week_and_skill


def hours_by_skill() -> dict[str, float]:
    """Bench hours of an overhaul: the house's own, otherwise common practice. One statement."""
    own = {skill: float(hours) for skill, hours in OverhaulHours.objects.values_list("skill", "hours")}
    return {skill.value: own.get(skill.value, HOUSE_HOURS[skill]) for skill in Complexity}


def benches_by_skill() -> dict[str, Benches]:
    """Bench hours a week of each skill that has some. One statement."""
    rows = SkillHours.objects.filter(hours_a_week__isnull=False).values_list("skill", "hours_a_week", "in_force_from")
    return {skill: Benches(float(hours), since) for skill, hours, since in rows if hours is not None}


def capacity_by_skill(first: date, weeks: int) -> dict[str, list[float]]:
    """Bench hours of so many weeks from the Monday `first` on, for each skill that has benches. Nine statements at most.

    By the watchmakers' calendars, within reach of orders that arrive in a week; where no watchmaker has a skill in these
    weeks, by the hours of skills.csv.
    """
    written = {skill: capacity_by_week(benches, first, weeks) for skill, benches in benches_by_skill().items()}
    of_calendars = hours_by_week_and_skill(first, weeks + WAIT_WEEKS)
    return written | {skill: within_reach(hours) for skill, hours in of_calendars.items()}
