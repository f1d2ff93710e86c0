"""The week as a model for the constraint solver: a yes or no for each task, bench and day that can be."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TypeAlias

from ortools.sat.python import cp_model

from service_center.planning.rules.week_plan.cost import (
    CHANGE_OF_BENCH,
    POINT_OF_LOAD,
    price_of_late,
    price_of_left,
)
from service_center.planning.rules.week_plan.week import Order, Place, Plan, Room, Task, Week, soonest_day

Yes: TypeAlias = cp_model.IntVar
Sum: TypeAlias = cp_model.LinearExpr | int


@dataclass(frozen=True, slots=True)
class Model:
    """The solver's model, and its variables: `at` by task and place, `busiest` in per cent, `keeps` by order and bench."""

    solver_model: cp_model.CpModel
    at: dict[int, dict[Place, Yes]]
    keeps: dict[int, dict[int, Yes]]
    busiest: Yes | None

    def hint(self, plan: Plan, orders: Sequence[Order]) -> None:
        """Give the solver a whole plan to start from: one with gaps is often not followed."""
        if self.busiest is not None:
            self.solver_model.add_hint(self.busiest, 100)
        for key, places in self.at.items():
            for place, yes in places.items():
                self.solver_model.add_hint(yes, plan.get(key) == place)
        for order in orders:
            for watchmaker, yes in self.keeps.get(order.key, {}).items():
                kept = any(
                    t.keeps_bench and t.key in plan and plan[t.key].watchmaker == watchmaker for t in order.tasks
                )
                self.solver_model.add_hint(yes, kept or watchmaker == order.bench)


def build(week: Week, *, orders: Sequence[Order], room: Room, fixed: Plan, priced: bool) -> Model:
    """The model of some of the week's orders in the room that the others leave them.

    `priced`: with what a plan costs, otherwise with the rules alone.
    """
    solver_model = cp_model.CpModel()
    at = {task.key: _places(solver_model, week, order, task, room, fixed) for order in orders for task in order.tasks}
    for order in orders:
        _sequence(solver_model, week, order, at)
    for place, minutes in _minutes_at(orders, at).items():
        solver_model.add(cp_model.LinearExpr.sum(minutes) <= room.free[place])
    if not priced:
        return Model(solver_model, at, {}, None)
    keeps = {order.key: _keeps(solver_model, order, at) for order in orders}
    busiest = _load(solver_model, week, orders, room, at)
    price: list[Sum] = [POINT_OF_LOAD * busiest]
    for order in orders:
        price += _price(week, order, at, keeps[order.key])
    solver_model.minimize(cp_model.LinearExpr.sum(price))
    return Model(solver_model, at, keeps, busiest)


def _places(
    solver_model: cp_model.CpModel, week: Week, order: Order, task: Task, room: Room, fixed: Plan
) -> dict[Place, Yes]:
    """Where a task can be done at all; exactly there, where it is fixed."""
    soonest = soonest_day(week, order, order.tasks.index(task))
    places = [
        Place(bench.watchmaker, day)
        for bench in week.benches
        if order.complexity in bench.skills
        for day in week.days
        if day >= soonest and room.free[Place(bench.watchmaker, day)] >= task.minutes
    ]
    if task.key in fixed:
        places = [place for place in places if place == fixed[task.key]]
    found = {place: solver_model.new_bool_var(f"t{task.key} w{place.watchmaker} {place.day}") for place in places}
    if task.key in fixed:
        solver_model.add_exactly_one(found.values())
    else:
        solver_model.add_at_most_one(found.values())
    return found


def _until(places: dict[Place, Yes], day: date) -> Sum:
    return cp_model.LinearExpr.sum([yes for place, yes in places.items() if place.day <= day])


def _sequence(solver_model: cp_model.CpModel, week: Week, order: Order, at: dict[int, dict[Place, Yes]]) -> None:
    """Each task after the one before it, its wait over; the same day only at the same bench (`next_place_allowed`)."""
    for before, task in zip(order.tasks, order.tasks[1:], strict=False):
        earlier, places = at[before.key], at[task.key]
        for day in week.days:
            over = day - timedelta(days=before.wait_days)
            solver_model.add(_until(places, day) <= _until(earlier, over))
        if before.wait_days:
            continue
        for place, yes in places.items():
            same = [earlier[place]] if place in earlier else []
            sooner = _until(earlier, place.day - timedelta(days=1))
            solver_model.add(yes <= sooner + cp_model.LinearExpr.sum(same))


def _minutes_at(orders: Sequence[Order], at: dict[int, dict[Place, Yes]]) -> dict[Place, list[Sum]]:
    found: dict[Place, list[Sum]] = {}
    for order in orders:
        for task in order.tasks:
            for place, yes in at[task.key].items():
                found.setdefault(place, []).append(task.minutes * yes)
    return found


def _keeps(solver_model: cp_model.CpModel, order: Order, at: dict[int, dict[Place, Yes]]) -> dict[int, Yes]:
    """For each bench, whether it has work of the order that one should keep."""
    kept = [task for task in order.tasks if task.keeps_bench]
    found: dict[int, Yes] = {}
    for task in kept:
        by_bench: dict[int, list[Yes]] = {}
        for place, yes in at[task.key].items():
            by_bench.setdefault(place.watchmaker, []).append(yes)
        for watchmaker, yeses in by_bench.items():
            if watchmaker not in found:
                found[watchmaker] = solver_model.new_bool_var(f"o{order.key} w{watchmaker}")
            solver_model.add(cp_model.LinearExpr.sum(yeses) <= found[watchmaker])
    return found


def _load(
    solver_model: cp_model.CpModel, week: Week, orders: Sequence[Order], room: Room, at: dict[int, dict[Place, Yes]]
) -> Yes:
    busiest = solver_model.new_int_var(0, 100, "busiest")
    by_bench: dict[int, list[Sum]] = {}
    for place, minutes in _minutes_at(orders, at).items():
        by_bench.setdefault(place.watchmaker, []).extend(minutes)
    for bench in week.benches:
        there = sum(bench.minutes.get(day, 0) for day in week.days)
        used = there - sum(room.free[Place(bench.watchmaker, day)] for day in week.days)
        here = cp_model.LinearExpr.sum([used, *by_bench.get(bench.watchmaker, [])])
        solver_model.add(100 * here <= there * busiest)
    return busiest


def _price(week: Week, order: Order, at: dict[int, dict[Place, Yes]], keeps: dict[int, Yes]) -> list[Sum]:
    """What an order costs."""
    found: list[Sum] = []
    for turn, task in enumerate(order.tasks):
        planned = cp_model.LinearExpr.sum(list(at[task.key].values()))
        found.append(price_of_left(week, order, turn) * (1 - planned))
        found += [
            late * yes for place, yes in at[task.key].items() if (late := price_of_late(week, order, turn, place.day))
        ]
    return found + _price_of_changes(order, at, keeps)


def _price_of_changes(order: Order, at: dict[int, dict[Place, Yes]], keeps: dict[int, Yes]) -> list[Sum]:
    kept = [task for task in order.tasks if task.keeps_bench]
    if not kept:
        return []
    if order.bench is not None:
        return [CHANGE_OF_BENCH * yes for watchmaker, yes in keeps.items() if watchmaker != order.bench]
    any_planned = cp_model.LinearExpr.sum(list(at[kept[0].key].values()))
    return [*(CHANGE_OF_BENCH * yes for yes in keeps.values()), -CHANGE_OF_BENCH * any_planned]
