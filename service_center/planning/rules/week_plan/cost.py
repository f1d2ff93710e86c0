"""What a plan costs: late promises, then work left out, then changes of bench, then uneven load. Ours to choose.

The prices stand so far apart that the earlier matter decides: a day late weighs as much as 10,000 minutes left out of
an order without a promise (two weeks of a bench and more), the smallest task left out more than a change of bench, a
change of bench as much as the whole range of the load.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from service_center.planning.rules.week_plan.week import Order, Plan, Week, soonest_day

DAY_LATE = 1_000_000
MINUTE_LEFT_OUT = 100
CHANGE_OF_BENCH = 100
POINT_OF_LOAD = 1  # of the busiest bench, in per cent of its week

# Weight of a minute left out by whole weeks from this week's end to the promise; beyond, and without one: 1.
PROMISED_WITHIN = (10, 6, 4, 3, 2)


@dataclass(frozen=True, slots=True)
class Cost:
    """The four parts: order days late that could be helped, weighed minutes left out, changes, busiest load (%)."""

    days_late: int
    weighed_minutes: int
    changes: int
    load: int

    @property
    def total(self) -> int:
        return (
            self.days_late * DAY_LATE
            + self.weighed_minutes * MINUTE_LEFT_OUT
            + self.changes * CHANGE_OF_BENCH
            + self.load * POINT_OF_LOAD
        )


def weight(week: Week, order: Order) -> int:
    """What a minute of an order left out of the week weighs."""
    if order.promised_on is None:
        return 1
    days = (order.promised_on - week.next_day).days
    weeks = max(0, days // 7 + 1)
    return PROMISED_WITHIN[weeks] if weeks < len(PROMISED_WITHIN) else 1


def late_when_ready(week: Week, order: Order, ready_on: date) -> int:
    """Days late on a day, beyond those that nothing can help any more: the order could not be ready before."""
    if order.promised_on is None:
        return 0
    soonest = soonest_day(week, order, len(order.tasks))
    return max(0, (ready_on - max(order.promised_on, soonest)).days)


def late_when_left(week: Week, order: Order, first_left_out: int) -> int:
    """Days late when the tasks from that one on (by place in the order) are left for the next week, at the soonest."""
    waits = sum(task.wait_days for task in order.tasks[first_left_out:])
    return late_when_ready(week, order, week.next_day + timedelta(days=waits))


def days_of_left(week: Week, order: Order, turn: int) -> int:
    """The days late that leaving out one more task, the one at that place in the order, adds. Only an order's first
    tasks are ever planned, so that these add up over all that are left out."""
    later = late_when_left(week, order, turn + 1) if turn + 1 < len(order.tasks) else 0
    return late_when_left(week, order, turn) - later


def days_of_late(week: Week, order: Order, turn: int, day: date) -> int:
    """The days late that doing the task at that place in the order on a day adds: the last one says when the order is
    ready."""
    if turn + 1 < len(order.tasks):
        return 0
    return late_when_ready(week, order, day + timedelta(days=order.tasks[turn].wait_days))


def price_of_left(week: Week, order: Order, turn: int) -> int:
    """What leaving out one more task adds to the cost; it adds up as `days_of_left` does."""
    minutes = order.tasks[turn].minutes * weight(week, order)
    return days_of_left(week, order, turn) * DAY_LATE + minutes * MINUTE_LEFT_OUT


def price_of_late(week: Week, order: Order, turn: int, day: date) -> int:
    """What doing the task at that place in the order on a day adds to the cost."""
    return DAY_LATE * days_of_late(week, order, turn, day)


@dataclass(frozen=True, slots=True)
class Prices:
    """What is counted: `left` for a task that is left out, `late` for one that is done on a day."""

    left: Callable[[Week, Order, int], int]
    late: Callable[[Week, Order, int, date], int]


COST = Prices(price_of_left, price_of_late)
DAYS_LATE = Prices(days_of_left, days_of_late)


def keepers(order: Order, plan: Plan) -> set[int]:
    """The watchmakers at whose benches the work that one should keep is done, with the one who has begun it."""
    kept = {plan[task.key].watchmaker for task in order.tasks if task.keeps_bench and task.key in plan}
    return kept | ({order.bench} if order.bench is not None and any(t.keeps_bench for t in order.tasks) else set())


def days_late_of(week: Week, order: Order, plan: Plan) -> int:
    """Days that an order with work left is late by a plan, beyond those that nothing can help any more."""
    done = sum(task.key in plan for task in order.tasks)
    if done < len(order.tasks):
        return late_when_left(week, order, done)
    last = order.tasks[-1]
    return late_when_ready(week, order, plan[last.key].day + timedelta(days=last.wait_days))


def cost_of(week: Week, plan: Plan) -> Cost:
    """What a plan that breaks no rule costs."""
    late = weighed = changes = 0
    for order in week.orders:
        if not order.tasks:
            continue
        late += days_late_of(week, order, plan)
        weighed += weight(week, order) * sum(task.minutes for task in order.tasks if task.key not in plan)
        changes += max(0, len(keepers(order, plan)) - 1)
    return Cost(late, weighed, changes, _busiest(week, plan))


def _busiest(week: Week, plan: Plan) -> int:
    minutes = {task.key: task.minutes for order in week.orders for task in order.tasks}
    load: dict[int, int] = {}
    for key, place in plan.items():
        load[place.watchmaker] = load.get(place.watchmaker, 0) + minutes[key]
    return max(
        (_per_cent(load.get(b.watchmaker, 0), [b.minutes.get(day, 0) for day in week.days]) for b in week.benches),
        default=0,
    )


def _per_cent(load: int, minutes: Sequence[int]) -> int:
    """Load in per cent of the minutes there are, rounded up."""
    there = sum(minutes)
    return -(-100 * load // there) if there else 0
