"""A wrong tap taken back, and an order laid onto another bench."""

from datetime import datetime

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.workshop.orders.actions.moving import locked_order
from service_center.workshop.orders.actions.working import NotOnTheBench
from service_center.workshop.orders.models import OrderOperation, TimeTakenBack, WorkOrder
from service_center.workshop.orders.rules.operations import Operation
from service_center.workshop.orders.rules.steps import Step
from service_center.workshop.orders.rules.where_done import done_at


@transaction.atomic
def take_back_operation(order: WorkOrder, operation: Operation, *, at: datetime, by: Staff) -> OrderOperation:
    """Say that an operation was called finished by mistake: it is to do again, and its minutes count no more.

    What was tapped stays on record. One that is not finished is given back as it is. Raises NotOnTheBench where the
    order has gone on from where the operation is done.
    """
    locked = locked_order(order)
    line = OrderOperation.objects.select_for_update(of=("self",)).get(order=locked, operation=operation.value)
    if line.finished_at is None:
        return line
    if Step(locked.step) not in done_at(operation):
        raise NotOnTheBench(locked.step)
    finished_at = line.finished_at
    for spent in line.time.filter(at=finished_at, taken_back=None):
        TimeTakenBack.objects.create(time=spent, by=by, at=at)
    line.finished_at = line.finished_by = None
    line.save(update_fields=["finished_at", "finished_by"])
    leave_trail(
        by=by,
        deed="take_back_operation",
        subject=f"order:{locked.number}",
        before=finished_at.isoformat(),
        after=operation.value,
    )
    return line


@transaction.atomic
def hand_over(order: WorkOrder, to: Staff, *, by: Staff) -> WorkOrder:
    """Lay an order onto another watchmaker's bench. Where it lies there already, nothing changes.

    Raises NotOnTheBench for an order that lies on no bench.
    """
    locked = locked_order(order)
    if locked.step != Step.ON_THE_BENCH:
        raise NotOnTheBench(locked.step)
    if locked.bench_id != to.pk:
        before = locked.bench.username if locked.bench else None
        locked.bench = to
        locked.save(update_fields=["bench"])
        leave_trail(by=by, deed="hand_over", subject=f"order:{locked.number}", before=before, after=to.username)
    return locked
