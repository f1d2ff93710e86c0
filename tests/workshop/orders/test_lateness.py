"""A promise is kept by being ready: an owner who fetches late makes no order late."""

from datetime import date, timedelta

import pytest

from service_center.workshop.orders.rules.lateness import days_late
from service_center.workshop.orders.rules.steps import Step

PROMISED = date(2026, 3, 20)
TODAY = PROMISED + timedelta(days=5)


@pytest.mark.parametrize(
    ("step", "ready_after", "late"),
    [
        (Step.ON_THE_BENCH, None, 5),
        (Step.READY, -2, 0),
        (Step.READY, 0, 0),
        (Step.READY, 3, 3),
        (Step.ON_THE_BENCH, -2, 5),  # was ready once, and went back
        (Step.HANDED_BACK, -2, 0),
    ],
)
def test_an_order_is_late_until_it_is_ready(step: Step, ready_after: int | None, late: int) -> None:
    ready_on = None if ready_after is None else PROMISED + timedelta(days=ready_after)
    assert days_late(step, PROMISED, ready_on, TODAY) == late


def test_without_a_promise_nothing_is_late() -> None:
    assert days_late(Step.ON_THE_BENCH, None, None, TODAY) == 0
