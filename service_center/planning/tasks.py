"""Celery's way in. Each may run twice, late, beside itself, or never (reliability.md, B1)."""

from django.utils import timezone

from service_center.celery import app
from service_center.planning import actions
from service_center.planning.week_plan.starting import plan_waiting_apart


@app.task(name="planning.tick")
def tick() -> None:
    """Every half minute: what is asked for, the day's picture, the week's forecast."""
    actions.tick(as_of=timezone.localdate(), now=timezone.now())


@app.task(name="planning.work_out")
def work_out() -> None:
    """The doorbell rang: work out what is asked for."""
    actions.work_out(now=timezone.now())


@app.task(name="planning.plan_weeks")
def plan_weeks() -> None:
    """Every half minute, and when the desk asked: work out the weeks that wait."""
    plan_waiting_apart()
