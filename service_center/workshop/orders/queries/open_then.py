"""The orders that were in the house at the end of a day that is over, as their facts say: steps and work are facts with times.

An operation is unfinished again only by being added anew or by its tap being taken back, and an order takes other work
only by becoming another kind: where one of these happened later, what stood on the day is not kept, and nothing is made up
for it.
"""

from collections.abc import Iterable, Iterator
from datetime import date, datetime, time, timedelta
from itertools import product

from django.utils import timezone

from service_center.access.models import Trail
from service_center.book.rules import Complexity, EntryKind
from service_center.workshop.orders.models import OrderMove, OrderOperation, WorkOrder
from service_center.workshop.orders.queries.open_orders import (
    ORDER_FIELDS,
    OpenOrder,
    Operated,
    OwnTimes,
    Told,
    own_times,
    put_together,
)
from service_center.workshop.orders.rules.operations import Operation, Time
from service_center.workshop.orders.rules.steps import Step

PLANNED_ANEW = ("change_kind", "add_operation")
TAKEN_BACK = "take_back_operation"


class NotKnownThenError(ValueError):
    """What some orders were to take on that day is not kept; `orders` by their numbers."""

    def __init__(self, orders: list[str]) -> None:
        self.orders = orders
        super().__init__(", ".join(orders))


def open_orders_then(as_of: date) -> list[OpenOrder]:
    """Every order that was in the house when the day ended, as `open_orders` says it of now. Four statements.

    Raises NotKnownThenError.
    """
    until = _end_of(as_of)
    then = WorkOrder.objects.filter(opened_on__lte=as_of).exclude(closed_on__lte=as_of)
    orders: list[Told] = list(then.order_by("pk").values_list(*ORDER_FIELDS))
    known = {f"order:{number}": pk for pk, number, *_rest in orders}
    left_out = _left_out_later(known, until)
    steps, diagnosed = dict[int, str](), set[int]()
    moves = OrderMove.objects.filter(order__in=then, at__lt=until).order_by("pk")
    for order, step in moves.values_list("order", "step"):
        steps[order] = step
        if step == Step.DIAGNOSED:
            diagnosed.add(order)
    operations = OrderOperation.objects.filter(order__in=then).order_by("position")
    return put_together(
        (
            (pk, number, serial, kind, skill, steps.get(pk, Step.LOGGED.value), came, by, bench, asks if pk in diagnosed else None)
            for pk, number, serial, kind, skill, _step, came, by, bench, asks in orders
        ),
        _operations(operations.values_list("order", "pk", "operation", "minutes", "wait_hours", "finished_at", "unneeded"), left_out, until),
    )  # fmt: skip


def own_times_then(as_of: date) -> OwnTimes:
    """The house's own table as it stood when a day ended: what was written later is undone by the trail. Two statements."""
    found = own_times()
    keys = {
        f"time:{kind}/{skill}/{one}": (kind, skill, one)
        for kind, skill, one in product(EntryKind, Complexity, Operation)
    }
    later = Trail.objects.filter(deed="standard_time", subject__in=list(keys), at__gte=_end_of(as_of)).order_by("-pk")
    for subject, before in later.values_list("subject", "before"):
        key = keys[subject]
        if before is None:
            found.pop(key, None)
        else:
            found[key] = Time(before["minutes"], before["wait_hours"])
    return found


def _end_of(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day + timedelta(days=1), time()))


def _left_out_later(known: dict[str, int], until: datetime) -> set[tuple[int, str]]:
    """Operations (order, operation) that were still to do, and were found needless later."""
    later = Trail.objects.filter(
        deed__in=[*PLANNED_ANEW, TAKEN_BACK, "leave_out_operation"], subject__in=list(known), at__gte=until
    ).order_by("pk")
    left_out, lost = set[tuple[int, str]](), set[str]()
    for deed, subject, before, after in later.values_list("deed", "subject", "before", "after"):
        if deed in PLANNED_ANEW or (deed == TAKEN_BACK and datetime.fromisoformat(str(before)) < until):
            lost.add(subject.removeprefix("order:"))
        elif deed != TAKEN_BACK:  # what was finished and taken back later was to do on that day
            left_out.add((known[subject], str(after)))
    if lost:
        raise NotKnownThenError(sorted(lost))
    return left_out


def _operations(
    rows: Iterable[tuple[int, int, str, int, int, datetime | None, str]],
    left_out: set[tuple[int, str]],
    until: datetime,
) -> Iterator[Operated]:
    for order, pk, operation, minutes, wait_hours, finished_at, unneeded in rows:
        if not unneeded or (order, operation) in left_out:
            done = finished_at if finished_at and finished_at < until else None
            yield order, pk, operation, minutes, wait_hours, done
