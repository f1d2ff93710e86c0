"""How late an order is: its promise is about the day on which it is ready, not the one on which its owner fetches it."""

from datetime import date

from service_center.workshop.orders.rules.steps import Step

# An order that was ready once and went back to the bench is not ready.
IS_READY = (Step.READY, Step.HANDED_BACK)


def days_late(step: Step, promised_on: date | None, ready_on: date | None, as_of: date) -> int:
    """Days past the promise until it was ready, or until `as_of` where it is not; 0 in time or without a promise."""
    if promised_on is None:
        return 0
    until = ready_on if ready_on and step in IS_READY else as_of
    return max(0, (until - promised_on).days)
