"""Lines that the desk has fixed: those that can be kept, together, and those that cannot, each with its reason."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from service_center.planning.rules.week_plan.model import build
from service_center.planning.rules.week_plan.solver import first_plan
from service_center.planning.rules.week_plan.week import (
    Order,
    Place,
    Room,
    Task,
    Week,
    in_promise_order,
    next_place_allowed,
    soonest_day,
)
from service_center.planning.rules.week_plan.why import Impossible, Why


@dataclass(frozen=True, slots=True)
class SortedOut:
    """Fixed lines that are kept; a plan of them and of all that comes before them; and the lines that are not."""

    kept: dict[int, Place]
    base: dict[int, Place]
    impossible: tuple[Impossible, ...]


def sort_out(week: Week) -> SortedOut:
    """Keep each fixed line that can be kept beside those of earlier promises; name the others."""
    kept: dict[int, Place] = {}
    impossible: list[Impossible] = []
    for order in in_promise_order(week.orders):
        for task in order.tasks:
            if task.fixed is None:
                continue
            if why := _against(week, order, task, task.fixed, kept):
                impossible.append(Impossible(task.key, task.fixed, why))
            else:
                kept[task.key] = task.fixed
    base = _with_all_before(week, kept)
    if base is not None:
        return SortedOut(kept, base, tuple(impossible))
    return _one_by_one(week, kept, impossible)


def _one_by_one(week: Week, asked: dict[int, Place], impossible: list[Impossible]) -> SortedOut:
    """Some line leaves no place for what comes before it: find which, earliest promise first."""
    kept: dict[int, Place] = {}
    base: dict[int, Place] = {}
    for task, place in asked.items():
        found = _with_all_before(week, {**kept, task: place})
        if found is None:
            impossible.append(Impossible(task, place, Why.BEFORE))
        else:
            kept[task], base = place, found
    return SortedOut(kept, base, tuple(impossible))


def _against(week: Week, order: Order, task: Task, place: Place, kept: dict[int, Place]) -> Why | None:
    """What speaks against a line by itself and beside those that are kept; None: nothing."""
    bench = next((one for one in week.benches if one.watchmaker == place.watchmaker), None)
    if bench is None or order.complexity not in bench.skills:
        return Why.NO_BENCH if bench is None else Why.SKILL
    there = bench.minutes.get(place.day, 0)
    if place.day not in week.days or not there:
        return Why.NOT_THERE
    if place.day < order.released_on:
        return Why.RELEASED
    if not _in_sequence(week, order, task, place, kept):
        return Why.SEQUENCE
    return None if task.minutes + _minutes_kept(week, place, kept) <= there else Why.HOURS


def _minutes_kept(week: Week, place: Place, kept: dict[int, Place]) -> int:
    return sum(task.minutes for order in week.orders for task in order.tasks if kept.get(task.key) == place)


def _in_sequence(week: Week, order: Order, task: Task, place: Place, kept: dict[int, Place]) -> bool:
    """Whether the waits before it, and the order's own fixed lines before it, leave room for it."""
    before = order.tasks[: order.tasks.index(task)]
    if place.day < soonest_day(week, order, len(before)):
        return False
    wait = 0
    for one in reversed(before):
        wait += one.wait_days
        if one.key in kept:
            return next_place_allowed(replace(one, wait_days=wait), kept[one.key], place)
    return True


def _with_all_before(week: Week, kept: dict[int, Place]) -> dict[int, Place] | None:
    """A place for every kept line and all that comes before them; None where there is none."""
    orders = [cut for order in week.orders if (cut := _until_last(order, kept))]
    if not orders:
        return {}
    return first_plan(build(week, orders=orders, room=Room.of(week, {}), fixed=kept, priced=False))


def _until_last(order: Order, kept: Iterable[int]) -> Order | None:
    fixed = [turn for turn, task in enumerate(order.tasks) if task.key in kept]
    return replace(order, tasks=order.tasks[: fixed[-1] + 1]) if fixed else None
