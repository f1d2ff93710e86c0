"""A week's plan as plan_week prints it."""

from typing import Any

from service_center.planning.rules.weeks import week_name
from service_center.planning.week_plan.models import PlanLine, WeekPlan
from service_center.planning.week_plan.queries import lines_in_order


def week_report(plan: WeekPlan) -> dict[str, Any]:
    """The whole document: cost and bound in the prices of rules/week_plan/cost.py, the lines, and those not kept.

    `days_bound`: no plan has fewer days late, whatever else it leaves undone.
    """
    lines = lines_in_order(plan)
    return {
        "week": week_name(plan.monday),
        "as_of": plan.as_of.isoformat() if plan.as_of else None,
        "fault": plan.fault or None,
        "cost": plan.cost,
        "plain_cost": plan.plain_cost,
        "bound": plan.bound,
        "days_bound": plan.days_bound,
        "days_late": plan.days_late,
        "minutes_left_out": plan.minutes_left_out,
        "changes": plan.changes,
        "load": plan.load,
        "lines": [_line(line) for line in lines if not line.against],
        "not_kept": [{**_line(line), "why": line.against} for line in lines if line.against],
    }


def _line(line: PlanLine) -> dict[str, Any]:
    return {
        "order": line.operation.order.number,
        "operation": line.operation.operation,
        "watchmaker": line.watchmaker_id,
        "day": line.day.isoformat(),
        "turn": line.turn,
        "minutes": line.minutes,
        "fixed": line.fixed,
    }
