"""A large week, made better part by part: some orders are planned anew around all others, again and again.

The whole week of a house of twelve benches is more than one thread of the solver can take in at once; forty orders of
it are solved in the twinkling of an eye. Parts are drawn with a fixed seed, and the work is counted, not the time.
"""

import random
from collections.abc import Sequence

from service_center.planning.rules.week_plan.cost import cost_of, price_of_late, price_of_left
from service_center.planning.rules.week_plan.model import build
from service_center.planning.rules.week_plan.solver import SEED, best_plan
from service_center.planning.rules.week_plan.week import Order, Place, Plan, Room, Week

ORDERS_AT_ONCE = 24
WORK_FOR_A_PART = 0.25


def improve(week: Week, plan: dict[int, Place], fixed: Plan, *, work: float) -> dict[int, Place]:
    """The plan, or a cheaper one, after so much of the solver's work."""
    dice = random.Random(SEED)  # noqa: S311  # which parts come first is no secret
    turn = 0
    while work > 0:
        some = _part(week, plan, dice, turn)
        turn += 1
        keys = {task.key for order in some for task in order.tasks}
        others = {key: place for key, place in plan.items() if key not in keys}
        model = build(week, orders=some, room=Room.of(week, others), fixed=fixed, priced=True)
        model.hint(plan, some)
        found = best_plan(model, work=min(work, WORK_FOR_A_PART))
        work -= found.work + WORK_FOR_A_PART / 20  # building a part is work as well
        if found.plan is not None:
            better = {**others, **found.plan}
            if cost_of(week, better).total <= cost_of(week, plan).total:
                plan = better
    return plan


def _part(week: Week, plan: Plan, dice: random.Random, turn: int) -> list[Order]:
    """Orders to plan anew: of two or three benches, or of a stretch of promises, half of them with the dearest left."""
    orders = [order for order in week.orders if order.tasks]
    if turn % 2:
        benches = dice.sample(week.benches, k=min(3, len(week.benches)))
        names = {bench.watchmaker for bench in benches}
        near = [o for o in orders if any(t.key in plan and plan[t.key].watchmaker in names for t in o.tasks)]
    else:
        near = [order for order in orders if any(task.key in plan for task in order.tasks)]
    wanted = sorted(orders, key=lambda order: (-_price_now(week, order, plan), order.key))
    drawn = _some(dice, near, ORDERS_AT_ONCE // 2)
    dear = [order for order in wanted if order not in drawn and _price_now(week, order, plan)]
    return drawn + _some(dice, dear[: 3 * ORDERS_AT_ONCE], ORDERS_AT_ONCE - len(drawn))


def _some(dice: random.Random, orders: Sequence[Order], most: int) -> list[Order]:
    return dice.sample(orders, k=min(most, len(orders)))


def _price_now(week: Week, order: Order, plan: Plan) -> int:
    price = 0
    for turn, task in enumerate(order.tasks):
        if task.key in plan:
            price += price_of_late(week, order, turn, plan[task.key].day)
        else:
            price += price_of_left(week, order, turn)
    return price
