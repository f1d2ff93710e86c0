"""A schedule that packs close: tasks without a wait between them together, at the bench that is left with least room.

The plain schedule (list_schedule.py) fills a day's rest with the first short task of an order, and the long one after it
then waits for the next day: an order that has no day to spare is late by it.
"""

from collections.abc import Sequence
from datetime import date

from service_center.planning.rules.week_plan.list_schedule import after
from service_center.planning.rules.week_plan.week import Bench, Order, Place, Plan, Room, Task, Week


def close_together(week: Week, orders: Sequence[Order], given: Plan) -> dict[int, Place]:
    """A plan of what is given and of some orders, each placed as soon as can be after those before it in the list."""
    plan, room = dict(given), Room.of(week, given)
    for order in orders:
        _place_order(week, order, plan, room)
    return plan


def _place_order(week: Week, order: Order, plan: dict[int, Place], room: Room) -> None:
    benches = [bench for bench in week.benches if order.complexity in bench.skills]
    before: Task | None = None
    for turn, task in enumerate(order.tasks):
        if task.key not in plan:
            not_before = order.released_on if before is None else after(before, plan[before.key])
            there = None if before is None or before.wait_days else plan[before.key]
            place = there if there is not None and room.free[there] >= task.minutes else None
            place = place or _place_of_run(week, benches, room, order.tasks[turn:], not_before)
            if place is None:
                return
            plan[task.key] = place
            room.free[place] -= task.minutes
        before = task


def _place_of_run(
    week: Week, benches: Sequence[Bench], room: Room, tasks: Sequence[Task], not_before: date
) -> Place | None:
    """Where the first of the tasks is done: on its first day, or on the next with all that follow it without a wait."""
    place = _closest(week, benches, room, tasks[0].minutes, not_before)
    if place is None or tasks[0].wait_days or len(tasks) == 1:
        return place
    together = _closest(week, benches, room, _minutes_of_run(tasks), not_before)
    # What follows the first task elsewhere is done a day later at the soonest: no sooner than all of it together.
    return together if together and (together.day - place.day).days <= 1 else place


def _minutes_of_run(tasks: Sequence[Task]) -> int:
    minutes = 0
    for task in tasks:
        minutes += task.minutes
        if task.wait_days:
            break
    return minutes


def _closest(week: Week, benches: Sequence[Bench], room: Room, minutes: int, not_before: date) -> Place | None:
    """The first day with so much room, at the bench that can do least else, then at the one with least room."""
    for day in week.days:
        if day < not_before:
            continue
        able = [
            (len(bench.skills), free, bench.watchmaker)
            for bench in benches
            if (free := room.free[Place(bench.watchmaker, day)]) >= minutes
        ]
        if able:
            return Place(min(able)[-1], day)
    return None
