"""Celery's way in. May run twice, late, beside itself, or never (reliability.md, B1)."""

from service_center.celery import app
from service_center.planning.week_plan.starting import plan_waiting_apart


@app.task(name="planning.plan_weeks")
def plan_weeks() -> None:
    """Every half minute, and when the desk asked: work out the weeks that wait."""
    plan_waiting_apart()
