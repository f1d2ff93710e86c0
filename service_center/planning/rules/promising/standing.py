"""How the house's orders and benches become what a promise is worked out from."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

import numpy as np

from service_center.planning.rules.bench_hours import Benches
from service_center.planning.rules.promising.values import Minutes, Turn, turns_of
from service_center.planning.rules.weeks import WORKING_DAYS
from service_center.workshop.orders.rules.learning import Learnt
from service_center.workshop.orders.rules.operations import Time

# Common practice, until the house's own orders say: an operation's spread as a share of its minutes.
SPREAD = 0.3
# Minutes are written down in fives, so that many orders look alike: no less than this share is believed.
LEAST_SPREAD = 0.05
# What no operation's minutes know: a week with illness, a batch of worn parts. Common practice, as a share of all work.
PACE = 0.1
# A piece at the boutique reaches the workshop a day later, and one that is ready its boutique. Common practice.
ON_THE_WAY = 24.0
# An owner who is asked answers within some days. Common practice, in hours.
ANSWERS = 5 * 24.0
# The week of one watchmaker, where the book knows only the hours of a skill.
FULL_WEEK = 40.0


@dataclass(frozen=True, slots=True)
class Work:
    """The turns of an order, and hours before the first that need no bench."""

    turns: tuple[Turn, ...]
    first_waits: float = 0.0


def work_of(operations: Iterable[tuple[Time, Learnt | None]]) -> Work:
    """Operations as turns at a bench: minutes and spread as learnt, else as planned with the usual spread.

    An operation without minutes only waits.
    """
    first_waits, found = 0.0, list[Turn]()
    for time, learnt in operations:
        minutes = learnt.minutes if learnt else time.minutes
        if minutes > 0:
            spread = max(learnt.spread, LEAST_SPREAD * minutes) if learnt else SPREAD * minutes
            found.append(Turn(minutes, spread, time.wait_hours))
        elif found:
            last = found.pop()
            found.append(Turn(last.minutes, last.spread, last.wait_hours + time.wait_hours))
        else:
            first_waits += time.wait_hours
    return Work(turns_of(found), first_waits)


def minutes_of_skill(benches: Benches, first: date, days: int, off: Iterable[date]) -> list[Minutes]:
    """The hours a week of a skill as benches of one watchmaker each, Monday to Friday, none on the days that are `off`.

    A minute that does not divide is left out.
    """
    many = max(1, ceil(benches.hours_a_week / FULL_WEEK))
    each = int(benches.hours_a_week * 60 / many / WORKING_DAYS)
    free = frozenset(off)
    by_day = np.zeros(days, dtype=np.int64)
    for number in range(days):
        day = first + timedelta(days=number)
        begun = benches.in_force_from is None or day >= benches.in_force_from
        if begun and day.weekday() < WORKING_DAYS and day not in free:
            by_day[number] = each
    return [by_day] * many


def ranked_at(usual_day: date, own_kind: Iterable[date | None]) -> date | None:
    """The day by which a new order is ranked: as the house usually promises, behind all in the house of its own kind.

    A cell is changed before the overhauls that were promised for next month; no overhaul overtakes another. None, the
    last, where one of its kind has no promise.
    """
    days = list(own_kind)
    return None if None in days else max([usual_day, *(day for day in days if day)])
