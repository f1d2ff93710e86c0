"""A large week, made better part by part: some orders are planned anew around all others, again and again.

The whole week of a house of twelve benches is more than one thread of the solver can take in at once; six orders of
it are solved in the twinkling of an eye. Parts are drawn with a fixed seed, and the work is counted, not the time.
"""

import random
from collections.abc import Sequence
from datetime import date
from typing import Any

from service_center.planning.rules.week_plan.cost import cost_of, price_of_late, price_of_left
from service_center.planning.rules.week_plan.model import build
from service_center.planning.rules.week_plan.solver import SEED, best_plan
from service_center.planning.rules.week_plan.week import Order, Place, Plan, Room, Week

ORDERS_AT_ONCE = 6
BENCHES_AT_ONCE = 2
DAYS_AT_ONCE = 1
WORK_FOR_A_PART = 0.05
WORK_OF_BUILDING = 0.01


def improve(week: Week, plan: dict[int, Place], fixed: Plan, *, bound: int, work: float) -> dict[int, Place]:
    """The plan, or a cheaper one, after so much of the solver's work or once it costs no more than `bound`."""
    dice = random.Random(SEED)  # noqa: S311  # which parts come first is no secret
    cost = cost_of(week, plan).total
    while work > 0 and cost > bound:
        some = _part(week, plan, dice)
        keys = {task.key for order in some for task in order.tasks}
        others = {key: place for key, place in plan.items() if key not in keys}
        model = build(week, orders=some, room=Room.of(week, others), fixed=fixed, priced=True)
        model.hint(plan, some)
        found = best_plan(model, work=min(work, WORK_FOR_A_PART))
        work -= found.work + WORK_OF_BUILDING  # building a part is work as well
        if found.plan is not None:
            better = {**others, **found.plan}
            if (cheaper := cost_of(week, better).total) <= cost:
                plan, cost = better, cheaper
    return plan


def _part(week: Week, plan: Plan, dice: random.Random) -> list[Order]:
    """Orders to plan anew: one of those that cost most as they stand, and some of those that hold the places which it
    could have, on a day at two benches."""
    orders = [order for order in week.orders if order.tasks]
    prices = [_price_now(week, order, plan) for order in orders]
    if not any(prices):
        return _some(dice, orders, ORDERS_AT_ONCE)
    dear = dice.choices(orders, weights=prices, k=1)[0]
    able = [bench.watchmaker for bench in week.benches if dear.complexity in bench.skills]
    benches = set(_some(dice, able, BENCHES_AT_ONCE))
    first = dice.randrange(len(week.days))
    days = set(week.days[first : first + DAYS_AT_ONCE])
    near = [
        order for order in orders
        if order is not dear and any(_among(plan.get(task.key), benches, days) for task in order.tasks)
    ]  # fmt: skip
    return [dear, *_some(dice, near, ORDERS_AT_ONCE - 1)]


def _among(place: Place | None, benches: set[int], days: set[date]) -> bool:
    return place is not None and place.watchmaker in benches and place.day in days


def _some(dice: random.Random, some: Sequence[Any], most: int) -> list[Any]:
    return dice.sample(some, k=min(most, len(some)))


def _price_now(week: Week, order: Order, plan: Plan) -> int:
    price = 0
    for turn, task in enumerate(order.tasks):
        if task.key in plan:
            price += price_of_late(week, order, turn, plan[task.key].day)
        else:
            price += price_of_left(week, order, turn)
    return price
