"""The plan of a week: fixed lines first, a plain schedule to start from, then the solver."""

import math
from dataclasses import dataclass

from service_center.planning.rules.week_plan.cost import Cost, cost_of
from service_center.planning.rules.week_plan.exchanging import fewest_days_late
from service_center.planning.rules.week_plan.fixed import SortedOut, sort_out
from service_center.planning.rules.week_plan.improving import improve
from service_center.planning.rules.week_plan.list_schedule import earliest_promise_first
from service_center.planning.rules.week_plan.model import build
from service_center.planning.rules.week_plan.relaxation import Bound, lower_bound
from service_center.planning.rules.week_plan.solver import WORK, best_plan
from service_center.planning.rules.week_plan.week import Line, Plan, Room, Week, broken_rules, lines_of
from service_center.planning.rules.week_plan.why import Impossible

# Task times bench times day: beyond it the week is planned part by part (improving.py).
PLACES_AT_ONCE = 2_000


@dataclass(frozen=True, slots=True)
class PlannedWeek:
    """A plan, what it costs beside the plain schedule, and below what no plan lies: `bound` in cost, and `days_bound` in
    days late, whatever else such a plan would leave undone."""

    plan: Plan
    lines: tuple[Line, ...]
    cost: Cost
    plain: Cost
    bound: int
    days_bound: int
    impossible: tuple[Impossible, ...]

    @property
    def gap(self) -> float:
        """By how much of its cost the plan may be dearer than the best there is; 0: it is the best."""
        return max(0.0, (self.cost.total - self.bound) / self.cost.total) if self.cost.total else 0.0


class BrokenPlan(RuntimeError):  # noqa: N818  # what happened, in words
    """The solver's plan breaks a rule: it is not used."""


def plan_week(week: Week, *, work: float = WORK) -> PlannedWeek:
    """The best plan found within so much of the solver's work, never worse than the plain schedule.

    The same week gives the same plan. Raises BrokenPlan where the solver's answer does not stand up to the rules.
    """
    fixed = sort_out(week)
    plain = earliest_promise_first(week, fixed.base)
    plan, bound = (_whole if _small(week) else _in_parts)(week, plain, fixed, work)
    named = {one.task for one in fixed.impossible}
    if broken := [one for one in broken_rules(week, plan) if not (one.rule == "fixed" and one.task in named)]:
        raise BrokenPlan(str(broken[:3]))
    if cost_of(week, plain).total < cost_of(week, plan).total:
        plan = plain
    return PlannedWeek(
        plan=plan,
        lines=tuple(lines_of(week, plan)),
        cost=cost_of(week, plan),
        plain=cost_of(week, plain),
        bound=bound.cost,
        days_bound=bound.days_late,
        impossible=fixed.impossible,
    )


def _small(week: Week) -> bool:
    """Whether the solver can take in the whole week at once."""
    benches = {skill: sum(skill in bench.skills for bench in week.benches) for skill in _skills(week)}
    places = sum(len(order.tasks) * benches[order.complexity] for order in week.orders) * len(week.days)
    return places <= PLACES_AT_ONCE


def _skills(week: Week) -> set[str]:
    return {order.complexity for order in week.orders}


def _whole(week: Week, plain: Plan, fixed: SortedOut, work: float) -> tuple[Plan, Bound]:
    model = build(week, orders=week.orders, room=Room.of(week, {}), fixed=fixed.kept, priced=True)
    model.hint(plain, week.orders)
    found = best_plan(model, work=work)
    bound = lower_bound(week, fixed.kept)
    bound = Bound(bound.days_late, max(math.ceil(found.bound - 0.5), bound.cost))
    return (plain, bound) if found.plan is None else (found.plan, bound)


def _in_parts(week: Week, plain: Plan, fixed: SortedOut, work: float) -> tuple[Plan, Bound]:
    bound = lower_bound(week, fixed.kept)
    early = earliest_promise_first(week, fewest_days_late(week, fixed.base, bound=bound.days_late))
    start = min([plain, early], key=lambda plan: cost_of(week, plan).total)
    return improve(week, dict(start), fixed.kept, bound=bound.cost, work=work), bound
