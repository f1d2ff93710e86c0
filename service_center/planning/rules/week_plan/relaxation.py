"""Below what no plan of the week can cost: tasks may be split, benches of the same skills are one, a day's hours pooled.

A linear programme; its minimum is a bound for every plan that keeps the rules, since each such plan is one of its
points and costs there no more than it does (changes of bench and the busiest bench count for nothing here).
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csr_matrix

from service_center.planning.rules.week_plan.cost import COST, DAY_LATE, DAYS_LATE, Prices
from service_center.planning.rules.week_plan.week import Order, Plan, Week, soonest_day

Pool = frozenset[str]
SAFELY_BELOW = 1e-6  # of the minimum: what the programme's tolerances may be off by
SIZES = 6  # how finely tasks are told apart by their share of a bench's day


@dataclass
class _Rows:
    """Rows of `matrix @ x <= most`, entry by entry."""

    most: list[float] = field(default_factory=list)
    row: list[int] = field(default_factory=list)
    column: list[int] = field(default_factory=list)
    value: list[float] = field(default_factory=list)

    def add(self, most: float, entries: Iterator[tuple[int, float]]) -> None:
        at = len(self.most)
        for column, value in entries:
            self.row.append(at)
            self.column.append(column)
            self.value.append(value)
        self.most.append(most)


@dataclass
class Programme:
    """The programme of some orders: what its points cost, and the column of each task in a pool on a day (`at`)."""

    prices: Prices
    rows: _Rows = field(default_factory=_Rows)
    price: list[float] = field(default_factory=list)
    constant: float = 0.0
    by_pool: dict[tuple[Pool, date], list[tuple[int, int]]] = field(default_factory=dict)
    at: dict[tuple[int, Pool, date], int] = field(default_factory=dict)

    @property
    def matrix(self) -> csr_matrix:
        shape = (len(self.rows.most), len(self.price))
        return csr_matrix((self.rows.value, (self.rows.row, self.rows.column)), shape=shape)


def programme_of(
    week: Week,
    orders: Sequence[Order],
    fixed: Plan,
    *,
    prices: Prices,
    open_from: date = date.min,
    share: float = 1.0,
) -> Programme:
    """The programme of some of the week's orders; what is not fixed is done from a day on, in a share of its hours."""
    pools: dict[Pool, dict[date, int]] = {}
    for bench in week.benches:
        hours = pools.setdefault(bench.skills, dict.fromkeys(week.days, 0))
        for day in week.days:
            hours[day] += bench.minutes.get(day, 0)
    programme = Programme(prices)
    for order in orders:
        _add_order(programme, week, order, pools, fixed, open_from)
    _hours(programme, week, open_from, share)
    return programme


@dataclass(frozen=True, slots=True)
class Bound:
    """No plan has fewer days late (that could be helped) than `days_late`, and none costs less than `cost`."""

    days_late: int
    cost: int


def lower_bound(week: Week, fixed: Plan) -> Bound:
    """Below what no plan lies: first its days late alone, then its cost, none having fewer days late than that.

    0 where a programme could not be solved.
    """
    counted = programme_of(week, week.orders, fixed, prices=DAYS_LATE)
    days = _whole_above(_minimum(counted), counted.constant)
    priced = programme_of(week, week.orders, fixed, prices=COST)
    # Days are whole ones: where a point has a part of a day less, no plan has.
    at_most = counted.constant - days
    priced.rows.add(at_most, ((column, -price) for column, price in enumerate(counted.price) if price))
    cost = _whole_above(_minimum(priced), priced.constant)
    return Bound(days, max(cost, days * DAY_LATE))


def _minimum(programme: Programme) -> float:
    if not programme.price:
        return programme.constant
    found = linprog(
        np.array(programme.price),
        A_ub=programme.matrix,
        b_ub=np.array(programme.rows.most),
        bounds=(0, 1),
        method="highs",
    )
    return programme.constant + float(found.fun) if found.success else 0.0


def _whole_above(minimum: float, constant: float) -> int:
    """The first whole number that is not below a minimum, which the programme's tolerances may have a little too high."""
    return max(0, math.ceil(minimum - SAFELY_BELOW * max(1.0, constant)))


def _add_order(
    programme: Programme,
    week: Week,
    order: Order,
    pools: dict[Pool, dict[date, int]],
    fixed: Plan,
    open_from: date,
) -> None:
    able = [pool for pool in pools if order.complexity in pool]
    longest = {
        (pool, day): max(b.minutes.get(day, 0) for b in week.benches if b.skills == pool)
        for pool in able
        for day in week.days
    }
    skills_of = {bench.watchmaker: bench.skills for bench in week.benches}
    before: dict[date, list[int]] | None = None
    for turn, task in enumerate(order.tasks):
        soonest = soonest_day(week, order, turn)
        columns: dict[date, list[int]] = {}
        programme.constant += programme.prices.left(week, order, turn)
        for (pool, day), most in longest.items():
            place = fixed.get(task.key)
            if place and (place.day != day or skills_of[place.watchmaker] != pool):
                continue
            if day < soonest or most < task.minutes or (place is None and day < open_from):
                continue
            column = len(programme.price)
            programme.price.append(
                programme.prices.late(week, order, turn, day) - programme.prices.left(week, order, turn)
            )
            columns.setdefault(day, []).append(column)
            programme.at[task.key, pool, day] = column
            programme.by_pool.setdefault((pool, day), []).append((column, task.minutes))
        here = [column for some in columns.values() for column in some]
        programme.rows.add(1.0, ((column, 1.0) for column in here))
        if task.key in fixed:
            programme.rows.add(-1.0, ((column, -1.0) for column in here))
        if turn and not order.tasks[turn - 1].wait_days:
            _in_one_pool(programme, order, turn, able, week)
        if before is not None:
            _after(programme.rows, week, _wait(order, turn, max(longest.values(), default=0)), before, columns)
        before = columns


def _after(rows: _Rows, week: Week, wait: int, before: dict[date, list[int]], columns: dict[date, list[int]]) -> None:
    """By each day no more of a task is done than of the one before it by the day its wait began."""
    for day in week.days:
        over = day - timedelta(days=wait)
        now = [(column, 1.0) for one, some in columns.items() if one <= day for column in some]
        then = [(column, -1.0) for one, some in before.items() if one <= over for column in some]
        if now:
            rows.add(0.0, iter([*now, *then]))


def _in_one_pool(programme: Programme, order: Order, turn: int, able: Sequence[Pool], week: Week) -> None:
    """On the day of the task before it, a task is done in the same pool: a piece changes benches overnight."""
    before, task = order.tasks[turn - 1].key, order.tasks[turn].key
    for pool in able:
        for day in week.days:
            column = programme.at.get((task, pool, day))
            if column is None:
                continue
            sooner = [programme.at.get((before, other, one)) for other in able for one in week.days if one < day]
            ready = [*sooner, programme.at.get((before, pool, day))]
            programme.rows.add(0.0, iter([(column, 1.0), *((one, -1.0) for one in ready if one is not None)]))


def _wait(order: Order, turn: int, longest: int) -> int:
    """Days between a task and the one before it: without a wait the same day, unless no bench's day holds them both."""
    before = order.tasks[turn - 1]
    return before.wait_days or int(before.minutes + order.tasks[turn].minutes > longest)


def _hours(programme: Programme, week: Week, open_from: date, share: float) -> None:
    """The hours of a pool's day, and how many tasks of a size go into them: two of 180 minutes into a bench's 420, not
    two and a third. Source of the latter: dual feasible functions of the bin packing problem (Fekete, Schepers 2001)."""
    for (pool, day), entries in programme.by_pool.items():
        days = [bench.minutes.get(day, 0) for bench in week.benches if bench.skills == pool]
        programme.rows.add(sum(days) * (share if day >= open_from else 1.0), iter(entries))
        longest, there = max(days), sum(minutes > 0 for minutes in days)
        for parts in range(1, SIZES + 1):
            sized = [(column, _size(minutes, longest, parts)) for column, minutes in entries]
            programme.rows.add(there, ((column, size) for column, size in sized if size))


def _size(minutes: float, longest: int, parts: int) -> float:
    """The share of a bench's day that a task takes at the least, where tasks are not cut. `parts`: 1, 2, 3, ..."""
    times = (parts + 1) * minutes / longest
    return minutes / longest if times.is_integer() else math.floor(times) / parts
