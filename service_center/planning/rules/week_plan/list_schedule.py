"""The plain way to fill a week: earliest promise first, each task on the first day and bench that can take it."""

from collections.abc import Sequence
from datetime import date, timedelta

from service_center.planning.rules.week_plan.week import (
    Bench,
    Order,
    Place,
    Plan,
    Room,
    Task,
    Week,
    in_promise_order,
    soonest_day,
)


def earliest_promise_first(week: Week, given: Plan) -> dict[int, Place]:
    """A plan that breaks no rule, around what is given (fixed lines and what must come before them)."""
    return one_by_one(week, in_promise_order(week.orders), given)


def in_slack_order(week: Week) -> list[Order]:
    """Least slack first, and of the same the earliest promise; what nothing can help any more has none to spare."""

    def slack(order: Order) -> int:
        if order.promised_on is None:
            return date.max.toordinal()
        return max(0, (order.promised_on - soonest_day(week, order, len(order.tasks))).days)

    return sorted(in_promise_order(week.orders), key=slack)


def one_by_one(week: Week, orders: Sequence[Order], given: Plan) -> dict[int, Place]:
    """A plan of what is given and of some orders, each placed as soon as can be after those before it in the list."""
    plan, room = dict(given), Room.of(week, given)
    for order in orders:
        _place_order(week, order, plan, room)
    return plan


def _place_order(week: Week, order: Order, plan: dict[int, Place], room: Room) -> None:
    benches = [bench for bench in week.benches if order.complexity in bench.skills]
    before: Task | None = None
    keeper = order.bench
    for task in order.tasks:
        if task.key not in plan:
            not_before = order.released_on if before is None else after(before, plan[before.key])
            there = None if before is None or before.wait_days else plan[before.key]
            place = _first_place(week, benches, room, task, not_before, there, keeper if task.keeps_bench else None)
            if place is None:
                return
            plan[task.key] = place
            room.free[place] -= task.minutes
        if task.keeps_bench:
            keeper = plan[task.key].watchmaker
        before = task


def after(before: Task, there: Place) -> date:
    """The first day on which the next task may be anywhere."""
    return there.day + timedelta(days=max(before.wait_days, 1))


def _first_place(
    week: Week, benches: list[Bench], room: Room, task: Task, not_before: date, there: Place | None, keeper: int | None
) -> Place | None:
    """The same bench on the same day if it has room (`there`), or the first day; the keeper's bench on it, or the one
    that can do least else, or that has most room left."""
    if there is not None and room.free[there] >= task.minutes:
        return there
    for day in week.days:
        if day < not_before:
            continue
        able = [bench for bench in benches if room.free[Place(bench.watchmaker, day)] >= task.minutes]
        if able:
            best = min(
                able,
                key=lambda bench: (
                    bench.watchmaker != keeper,
                    len(bench.skills),
                    -room.free[Place(bench.watchmaker, day)],  # asked at once
                    bench.watchmaker,
                ),
            )
            return Place(best.watchmaker, day)
    return None
