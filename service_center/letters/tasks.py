"""Celery's way in. Each may run twice, late, beside itself, or never (reliability.md, B1)."""

from django.utils import timezone

from service_center.celery import app
from service_center.letters import actions
from service_center.letters.answered import actions as answered
from service_center.letters.rehearsing.actions import rehearse_next


@app.task(name="letters.tick")
def tick() -> None:
    """Every half minute: today's round if it has not run, then what waits."""
    actions.tick(now=timezone.now())


@app.task(name="letters.forget")
def forget() -> None:
    """Every hour: returned mail that was kept long enough."""
    actions.forget_returned(now=timezone.now())


@app.task(name="letters.count_ahead")
def count_ahead() -> None:
    """Every hour: how many reminders come up on each day of the weeks to come."""
    actions.count_ahead(as_of=timezone.localdate(), now=timezone.now())


@app.task(name="letters.count_answers")
def count_answers() -> None:
    """Every hour: what owners answered so far."""
    answered.count_answers(now=timezone.now())


@app.task(name="letters.rehearse")
def rehearse() -> None:
    """Every half minute, and when the desk asked: the round that waits to be rehearsed."""
    rehearse_next(now=timezone.now())


@app.task(name="letters.send_waiting")
def send_waiting_letters() -> None:
    """The doorbell rang: hand over what is ready."""
    actions.send_for_a_while(now=timezone.now())
