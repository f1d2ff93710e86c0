"""A plan to start from: the orders that can be late, one after the other, in the turn that makes fewest days late.

An order that is late goes before others, or any goes elsewhere; what is not worse stays. A turn is judged by the
schedule it gives, so that every one is a plan that keeps the rules. Turns are drawn with a fixed seed and counted.
"""

import random
from collections.abc import Mapping, Sequence

from service_center.planning.rules.week_plan.close_schedule import close_together
from service_center.planning.rules.week_plan.cost import days_late_of, late_when_left
from service_center.planning.rules.week_plan.list_schedule import in_slack_order
from service_center.planning.rules.week_plan.solver import SEED
from service_center.planning.rules.week_plan.week import Order, Place, Plan, Week

TURNS = 2_000  # each takes some 3 thousandths of a second for 65 orders (measured: tests/bench/week_plan.py)
A_LATE_ONE = 0.7  # of the changes begin with an order that is late, the others with any


def fewest_days_late(week: Week, given: Plan, *, bound: int, turns: int = TURNS) -> dict[int, Place]:
    """A plan of the orders that can be late, around what is given (fixed lines and what must come before them).

    Ends after so many turns, or once no more than `bound` days are late. The other orders' work is not in it.
    """
    dice = random.Random(SEED)  # noqa: S311  # which turns come first is no secret
    orders = [order for order in in_slack_order(week) if order.tasks and late_when_left(week, order, 0)]
    plan = close_together(week, orders, given)
    late = _late(week, orders, plan)
    for _turn in range(turns):
        if sum(late.values()) <= bound or len(orders) < 2:
            break
        changed = _changed(orders, late, dice)
        other = close_together(week, changed, given)
        found = _late(week, changed, other)
        if sum(found.values()) <= sum(late.values()):
            orders, plan, late = changed, other, found
    return plan


def _late(week: Week, orders: Sequence[Order], plan: Plan) -> dict[int, int]:
    """The days of each order that is late."""
    return {order.key: days for order in orders if (days := days_late_of(week, order, plan))}


def _changed(orders: Sequence[Order], late: Mapping[int, int], dice: random.Random) -> list[Order]:
    changed = list(orders)
    if dice.random() < A_LATE_ONE:
        key = dice.choice(list(late))
        at = next(turn for turn, order in enumerate(changed) if order.key == key)
        to = dice.randrange(at) if at else 0
    else:
        at, to = dice.sample(range(len(changed)), 2)
    changed.insert(to, changed.pop(at))
    return changed
