"""At which step an operation is done, and what is left to do at a step. Common practice."""

from collections.abc import Iterable

from service_center.workshop.orders.rules.operations import AT_CONTROL, AT_RECEPTION, Operation
from service_center.workshop.orders.rules.steps import Step


def done_at(operation: Operation) -> frozenset[Step]:
    """The steps at which an operation is done."""
    if operation in AT_RECEPTION:
        return frozenset({Step.RECEIVED, Step.DIAGNOSED, Step.ON_THE_BENCH})
    if operation in AT_CONTROL:
        return frozenset({Step.ON_THE_BENCH, Step.UNDER_CONTROL})
    if operation is Operation.STRAP:
        return frozenset({Step.LOGGED, Step.ON_THE_BENCH, Step.UNDER_CONTROL})
    return frozenset({Step.ON_THE_BENCH})


def left_at(step: Step, left: Iterable[Operation]) -> list[Operation]:
    """What of all that is left is done at a step, before the order goes on; the control's own work waits for the control."""
    if step in (Step.LOGGED, Step.RECEIVED, Step.UNDER_CONTROL):
        return [one for one in left if step in done_at(one)]
    return [one for one in left if one not in AT_CONTROL]
