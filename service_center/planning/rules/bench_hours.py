"""Bench hours of an overhaul by the calibre's complexity, and of a week by skill."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from service_center.planning.rules.weeks import WORKING_DAYS, monday_at

# How long an order waits for its bench without anybody calling it late. Common practice.
WAIT_WEEKS = 3


@dataclass(frozen=True, slots=True)
class Benches:
    """The bench hours a week of one skill, from a day on (None: always)."""

    hours_a_week: float
    in_force_from: date | None = None


def capacity_by_week(benches: Benches | None, first: date, weeks: int) -> list[float]:
    """Bench hours of each week from the one that begins on the Monday `first`; none where no benches are known.

    In the week of the first day in force, the working days from that day on count.
    """
    if benches is None:
        return [0.0] * weeks
    since = benches.in_force_from
    if since is None:
        return [benches.hours_a_week] * weeks
    return [
        benches.hours_a_week * sum(monday_at(week, first) + timedelta(days=day) >= since for day in range(WORKING_DAYS))
        / WORKING_DAYS
        for week in range(weeks)
    ]  # fmt: skip


def within_reach(hours: Sequence[float]) -> list[float]:
    """Bench hours by week for orders that arrive in it and may wait WAIT_WEEKS for their bench; so many weeks fewer.

    A week gives equal parts of its hours to what arrives in it and in each week of the wait before it. So a closed week
    is no wall for every letter of the half year before it, and no hour is given twice. Even weeks stay as they are.
    """
    length = WAIT_WEEKS + 1
    return [sum(hours[week : week + length]) / length for week in range(len(hours) - WAIT_WEEKS)]


def worked_off(hours: float, room: list[float]) -> list[float]:
    """Hours of orders in the house by week: as early as the room of each week allows, what is left in the last."""
    left, weeks = hours, []
    for one in room:
        now = min(left, max(one, 0.0))
        weeks.append(now)
        left -= now
    if weeks:
        weeks[-1] += left
    return weeks
