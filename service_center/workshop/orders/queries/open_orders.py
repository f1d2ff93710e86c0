"""The orders in the house with what is left to do at each, as planning and promises need them."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime

from service_center.book.models import Piece
from service_center.book.rules import Complexity, EntryKind
from service_center.workshop.orders.models import OrderOperation, StandardTime, WorkOrder
from service_center.workshop.orders.rules.operations import UNKNOWN_IS, Operation, Time, times_for
from service_center.workshop.orders.rules.steps import Step

# An order that waits for its owner's word, or that goes back undone, takes no bench now.
WITHOUT_WORK = (Step.DECLINED.value, Step.READY.value)

ORDER_FIELDS = (
    "pk", "number", "piece__serial", "kind", "complexity", "step", "opened_on", "promised_on", "bench", "asks_owner",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class LeftToDo:
    """One operation that is not finished, with the time it was planned with."""

    pk: int
    operation: Operation
    time: Time


@dataclass(frozen=True, slots=True)
class OpenOrder:
    """One order in the house. `left` in the order of the work; `complexity` never empty: unknown counts as automatic.

    `finished_at`: when its last finished operation (`last_finished`) ended, from which a wait runs of `waits_hours`.
    """

    pk: int
    number: str
    serial: str
    kind: EntryKind
    complexity: Complexity
    step: Step
    opened_on: date
    promised_on: date | None
    bench: int | None
    asks_owner: bool | None
    left: tuple[LeftToDo, ...]
    finished_at: datetime | None
    waits_hours: int
    last_finished: Operation | None = None

    @property
    def minutes_left(self) -> int:
        return sum(one.time.minutes for one in self.left)


def open_orders(only: Collection[int] | None = None) -> list[OpenOrder]:
    """Every order that is not handed back, earliest promise first, then as they came in; or some of them, by key.

    Two statements.
    """
    orders = WorkOrder.objects.filter(closed_on=None)
    operations = OrderOperation.objects.filter(order__closed_on=None, unneeded="")
    if only is not None:
        orders, operations = orders.filter(pk__in=only), operations.filter(order__in=only)
    rows = operations.order_by("position").values_list(
        "order", "pk", "operation", "minutes", "wait_hours", "finished_at"
    )
    return put_together(orders.order_by("pk").values_list(*ORDER_FIELDS), rows)


OwnTimes = dict[tuple[EntryKind, Complexity, Operation], Time]
Told = tuple[int, str, str, str, str, str, date, date | None, int | None, bool | None]
Operated = tuple[int, int, str, int, int, datetime | None]


def put_together(orders: Iterable[Told], operations: Iterable[Operated]) -> list[OpenOrder]:
    """Orders (as ORDER_FIELDS) with their needed operations (order, pk, operation, minutes, wait_hours, finished_at)."""
    left: dict[int, list[LeftToDo]] = defaultdict(list)
    last: dict[int, tuple[datetime, int, Operation]] = {}
    for order, pk, operation, minutes, wait_hours, finished_at in operations:
        if finished_at is None:
            left[order].append(LeftToDo(pk, Operation(operation), Time(minutes, wait_hours)))
        elif order not in last or finished_at >= last[order][0]:
            last[order] = (finished_at, wait_hours, Operation(operation))
    found = [
        OpenOrder(
            pk=pk,
            number=number,
            serial=serial,
            kind=EntryKind(kind),
            complexity=Complexity(complexity) if complexity else UNKNOWN_IS,
            step=Step(step),
            opened_on=opened_on,
            promised_on=promised_on,
            bench=bench,
            asks_owner=asks,
            left=() if step in WITHOUT_WORK else tuple(left[pk]),
            finished_at=last[pk][0] if pk in last else None,
            waits_hours=last[pk][1] if pk in last else 0,
            last_finished=last[pk][2] if pk in last else None,
        )
        for pk, number, serial, kind, complexity, step, opened_on, promised_on, bench, asks in orders
    ]
    return sorted(found, key=lambda one: (one.promised_on or date.max, one.pk))


def own_times() -> OwnTimes:
    """The house's own times, where they differ from common practice. One statement."""
    return {
        (EntryKind(kind), Complexity(complexity), Operation(operation)): Time(minutes, wait)
        for kind, complexity, operation, minutes, wait in StandardTime.objects.values_list(
            "kind", "complexity", "operation", "minutes", "wait_hours"
        )
    }


def planned_times(kind: EntryKind, complexity: Complexity | None, *, rated: bool) -> dict[Operation, Time]:
    """What an order of a kind is planned with today, in the order of the work. One statement."""
    return times_for(kind, complexity, own_times(), rated=rated)


def overhaul_minutes() -> dict[Complexity, int]:
    """Bench minutes of a whole overhaul by complexity, as the house's table adds them up. One statement."""
    own = own_times()
    return {
        skill: sum(time.minutes for time in times_for(EntryKind.OVERHAUL, skill, own, rated=True).values())
        for skill in Complexity
    }


def open_order_of(piece: Piece) -> WorkOrder | None:
    """The order a piece is with us for; None where there is none. One statement."""
    return WorkOrder.objects.filter(piece=piece, closed_on=None).select_related("piece", "boutique", "owner").first()
