"""A plan to start from: day by day, first what is done on it of the work that can be late, then at which bench.

What is done on a day is a small whole-number programme over the rest of the week, since benches of the same skills are
one there; it sees the whole week at a look, where the plain schedule sees one order after the other. What does not fit
into the benches' day is left for the programme of the next day.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from ortools.sat.python import cp_model
from scipy.optimize import Bounds, LinearConstraint, milp

from service_center.planning.rules.week_plan.cost import late_when_left, price_of_left
from service_center.planning.rules.week_plan.relaxation import Pool, programme_of
from service_center.planning.rules.week_plan.solver import fitted
from service_center.planning.rules.week_plan.week import Bench, Order, Place, Plan, Task, Week

# The programme's own measures of work, so that the same week gives the same plan.
NODES = 20
# Of the hours of the days to come; tasks are not cut, so that a day's benches seldom hold all that fits into their sum.
SHARES = (1.0, 0.95)
NEAR_ENOUGH = 0.01


@dataclass(frozen=True, slots=True)
class _Block:
    """What is done of one order on one day: at one bench, since a piece changes benches overnight."""

    tasks: tuple[Task, ...]
    price: int

    @property
    def minutes(self) -> int:
        return sum(task.minutes for task in self.tasks)


def days_first(week: Week, fixed: Plan) -> list[dict[int, Place]]:
    """Plans of the orders that could be late, and of those with fixed lines; none where the programme finds none.

    `fixed`: lines that can be kept together. The other orders are in none of them.
    """
    found = (_day_by_day(week, fixed, share) for share in SHARES)
    return [plan for plan in found if plan is not None]


def _day_by_day(week: Week, fixed: Plan, share: float) -> dict[int, Place] | None:
    orders = tuple(order for order in week.orders if order.tasks and _counts(week, order, fixed))
    plan: dict[int, Place] = {}
    for day in week.days:
        pools = _pools_of(week, orders, {**fixed, **plan}, day, share)
        if pools is None:
            return None
        for pool in sorted({bench.skills for bench in week.benches}, key=sorted):
            blocks = [block for order in orders if (block := _block(week, order, plan, pools, pool, day)) is not None]
            plan |= _at_benches([bench for bench in week.benches if bench.skills == pool], day, blocks, fixed)
    return plan if fixed.keys() <= plan.keys() else None


def _counts(week: Week, order: Order, fixed: Plan) -> bool:
    return late_when_left(week, order, 0) > 0 or any(task.key in fixed for task in order.tasks)


def _pools_of(week: Week, orders: Sequence[Order], decided: Plan, today: date, share: float) -> dict[int, Pool] | None:
    """In which pool the tasks of a day are done, what was decided standing; None where there is no answer."""
    programme = programme_of(week, orders, decided, open_from=today, share=share)
    if not programme.price:
        return {}
    found = milp(
        np.array(programme.price),
        constraints=LinearConstraint(programme.matrix, -np.inf, np.array(programme.rows.most)),
        bounds=Bounds(0, 1),
        integrality=np.ones(len(programme.price)),
        options={"node_limit": NODES, "mip_rel_gap": NEAR_ENOUGH},
    )
    if found.x is None:
        return None
    return {task: pool for (task, pool, day), column in programme.at.items() if day == today and found.x[column] > 0.5}


def _block(week: Week, order: Order, plan: Plan, pools: dict[int, Pool], pool: Pool, day: date) -> _Block | None:
    """The order's next tasks as far as they are done in that pool today, and fit into a bench's day."""
    longest = max(bench.minutes.get(day, 0) for bench in week.benches if bench.skills == pool)
    tasks: list[Task] = []
    price = 0
    for turn, task in enumerate(order.tasks):
        if task.key in plan:
            if plan[task.key].day == day:
                return None  # in hand at another pool
            continue
        if pools.get(task.key) != pool or sum(one.minutes for one in tasks) + task.minutes > longest:
            break
        tasks.append(task)
        price += price_of_left(week, order, turn)
    return _Block(tuple(tasks), price) if tasks else None


def _at_benches(benches: Sequence[Bench], day: date, blocks: Sequence[_Block], fixed: Plan) -> dict[int, Place]:
    """The dearest blocks that fit into the benches' day together, each at one of them."""
    model = cp_model.CpModel()
    at = [[model.new_bool_var(f"b{number} w{bench.watchmaker}") for bench in benches] for number in range(len(blocks))]
    for block, row in zip(blocks, at, strict=True):
        model.add_at_most_one(row)
        for task in block.tasks:
            for bench, yes in zip(benches, row, strict=True):
                if task.key in fixed and fixed[task.key] != Place(bench.watchmaker, day):
                    model.add(yes == 0)
    for number, bench in enumerate(benches):
        there = [block.minutes * row[number] for block, row in zip(blocks, at, strict=True)]
        model.add(cp_model.LinearExpr.sum(there) <= bench.minutes.get(day, 0))
    model.maximize(
        cp_model.LinearExpr.sum([block.price * yes for block, row in zip(blocks, at, strict=True) for yes in row])
    )
    return {
        task.key: Place(benches[number].watchmaker, day)
        for block, row in zip(blocks, fitted(model, at), strict=True)
        for task in block.tasks
        for number, yes in enumerate(row)
        if yes
    }
