"""Work at the bench: operations finished, time spent, what was found."""

from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.rules import Complexity, EntryKind
from service_center.guarantee.actions import keep_decision
from service_center.guarantee.rules import Finding
from service_center.workshop.orders.actions.moving import locked_order, move_order
from service_center.workshop.orders.models import OrderFinding, OrderOperation, TimeSpent, WorkOrder
from service_center.workshop.orders.queries.open_orders import planned_times
from service_center.workshop.orders.rules.operations import Operation, Time
from service_center.workshop.orders.rules.steps import CannotMove, Step
from service_center.workshop.orders.rules.where_done import done_at


class NotOnTheBench(ValueError):  # noqa: N818  # a refusal, named as the workshop would say it
    """The order does not stand where this operation is done."""


class AlreadyFinished(ValueError):  # noqa: N818  # the same
    """The operation was finished before."""


@transaction.atomic
def take_to_bench(order: WorkOrder, *, at: datetime, on: date, by: Staff) -> WorkOrder:
    """A watchmaker takes an order to their bench, also one that another began. Raises CannotMove."""
    locked = locked_order(order)
    if locked.step != Step.ON_THE_BENCH:
        locked = move_order(locked, Step.ON_THE_BENCH, at=at, on=on, by=by)
    if locked.bench_id != by.pk:
        before = locked.bench.username if locked.bench else None
        locked.bench = by
        locked.save(update_fields=["bench"])
        leave_trail(
            by=by, deed="take_to_bench", subject=f"order:{locked.number}", before=before, after=by.username
        )  # fmt: skip
    return locked


@transaction.atomic
def finish_operation(
    order: WorkOrder, operation: Operation, *, minutes: int, at: datetime, by: Staff, form_key: UUID
) -> OrderOperation:
    """Write down that an operation is finished, and how many minutes it took. The same form twice is once.

    Raises NotOnTheBench where the order does not stand where it is done, AlreadyFinished, and ValueError for minutes
    that no day has; nothing is written then.
    """
    if not 0 < minutes <= 24 * 60:
        raise ValueError(f"minutes: 1 to 1440, not {minutes}")
    locked = locked_order(order)
    line = OrderOperation.objects.select_for_update(of=("self",)).get(order=locked, operation=operation.value)
    if TimeSpent.objects.filter(form_key=form_key).exists():
        return line
    if Step(locked.step) not in done_at(operation):
        raise NotOnTheBench(locked.step)
    if line.finished_at is not None or line.unneeded:
        raise AlreadyFinished(operation.value)
    TimeSpent.objects.create(form_key=form_key, operation=line, minutes=minutes, by=by, at=at)
    line.finished_at, line.finished_by = at, by
    line.save(update_fields=["finished_at", "finished_by"])
    return line


@transaction.atomic
def leave_out_operation(order: WorkOrder, operation: Operation, *, why: str, by: Staff) -> OrderOperation:
    """Say that an operation is not needed at this piece, and why. Raises AlreadyFinished, ValueError without a reason."""
    if not why.strip():
        raise ValueError("why: say why it is not needed")
    locked = locked_order(order)
    line = OrderOperation.objects.select_for_update(of=("self",)).get(order=locked, operation=operation.value)
    if line.finished_at is not None:
        raise AlreadyFinished(operation.value)
    line.unneeded = why.strip()[:200]
    line.save(update_fields=["unneeded"])
    leave_trail(
        by=by, deed="leave_out_operation", subject=f"order:{locked.number}", after=operation.value, reason=why
    )  # fmt: skip
    return line


@transaction.atomic
def add_operation(order: WorkOrder, operation: Operation, time: Time, *, why: str, by: Staff) -> OrderOperation:
    """Add an operation that the piece turned out to need, or take up again one that was finished or left out.

    A control that failed sends the piece back: what is done anew is done after the reason `why`.
    """
    locked = locked_order(order)
    line = (
        OrderOperation.objects.select_for_update(of=("self",)).filter(order=locked, operation=operation.value).first()
    )
    if line is None:
        last = locked.operations.aggregate(last=Max("position"))["last"]
        line = OrderOperation(order=locked, operation=operation.value, position=0 if last is None else last + 1)
    line.minutes, line.wait_hours = time.minutes, time.wait_hours
    line.finished_at = line.finished_by = None
    line.unneeded = ""
    line.save()
    leave_trail(by=by, deed="add_operation", subject=f"order:{locked.number}", after=operation.value, reason=why)
    return line


@transaction.atomic
def change_kind(order: WorkOrder, kind: EntryKind, *, why: str, by: Staff) -> WorkOrder:
    """Make another kind of order of it: the piece needs more, or less, than was asked. Why is kept.

    What the new kind plans is added; what was finished stays, and the rest of the old kind is no longer needed.
    Raises ValueError without a reason, and CannotMove for an order whose work is over; nothing is written then.
    """
    if not why.strip():
        raise ValueError("why: say why it is another kind of order")
    locked = locked_order(order)
    if locked.step in (Step.READY, Step.HANDED_BACK):
        raise CannotMove(locked.step)
    before, locked.kind = locked.kind, kind.value
    locked.save(update_fields=["kind"])
    complexity = Complexity(locked.complexity) if locked.complexity else None
    piece = locked.piece
    times = planned_times(kind, complexity, rated=bool(piece.model and piece.model.rated_bar))
    known = {line.operation: line for line in locked.operations.all()}
    for line in known.values():
        if line.operation not in times and line.finished_at is None:
            line.unneeded = why.strip()[:200]
            line.save(update_fields=["unneeded"])
    for position, (operation, time) in enumerate(times.items()):
        line = known.get(operation.value) or OrderOperation(order=locked, operation=operation.value)
        line.position = position
        if line.finished_at is None:
            line.minutes, line.wait_hours, line.unneeded = time.minutes, time.wait_hours, ""
        line.save()
    leave_trail(
        by=by, deed="change_kind", subject=f"order:{locked.number}", before=before, after=kind.value, reason=why
    )
    return locked


@transaction.atomic
def add_finding(
    order: WorkOrder, finding: Finding, *, what: str, country: str, on: date, at: datetime, by: Staff, form_key: UUID
) -> OrderFinding:
    """Keep what was found, and whether the house's table covers it on the day the piece came in.

    The same form twice is one finding.
    """
    locked = locked_order(order)
    before = OrderFinding.objects.filter(form_key=form_key).first()
    if before:
        return before
    decision = keep_decision(
        locked.piece,
        finding,
        reported_on=locked.opened_on,
        covered=None,
        reason="",
        order=locked.number,
        country=country,
        form_key=form_key,
        by=by,
    )
    return OrderFinding.objects.create(
        form_key=form_key,
        order=locked,
        finding=finding.value,
        what=what,
        found_at=at,
        found_by=by,
        decision=decision,
    )
