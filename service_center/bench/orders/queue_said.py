"""The queue in words, as its page shows it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID, uuid4

from service_center.bench.orders.queue import Card, Queue
from service_center.bench.orders.queue_words import CAUTIONS_OF_WORK
from service_center.book.rules import EntryKind
from service_center.workshop.orders.models import WorkOrder
from service_center.workshop.orders.queries.open_orders import LeftToDo
from service_center.workshop.orders.rules.operations import Operation
from service_center.workshop.words import KINDS, OPERATIONS


@dataclass(frozen=True, slots=True)
class Shown:
    """One order of the queue: what it is, what is done now, and what to take care of. Each form has a key of its own."""

    order: WorkOrder
    kind: str
    late: bool
    now: LeftToDo | None
    doing: str
    caution: str
    taps: tuple[int, ...]
    then: tuple[str, ...]
    until: datetime | None
    planned_for: date | None
    last: Operation | None
    last_said: str
    last_at: datetime | None
    form_key: UUID


@dataclass(frozen=True, slots=True)
class ShownQueue:
    """The queue, list by list."""

    on_bench: list[Shown]
    resting: list[Shown]
    under_control: list[Shown]
    to_look_at: list[Shown]
    to_take: list[Shown]
    more: int
    more_under_control: int
    more_to_look_at: int


def said(queue: Queue) -> ShownQueue:
    """The same queue in the reader's language."""
    return ShownQueue(
        on_bench=_all(queue.on_bench),
        resting=_all(queue.resting),
        under_control=_all(queue.under_control),
        to_look_at=_all(queue.to_look_at),
        to_take=_all(queue.to_take),
        more=queue.more,
        more_under_control=queue.more_under_control,
        more_to_look_at=queue.more_to_look_at,
    )


def _all(cards: Iterable[Card]) -> list[Shown]:
    return [_shown(card) for card in cards]


def _shown(card: Card) -> Shown:
    now, (last, last_at) = card.now, card.last or (None, None)
    return Shown(
        order=card.order,
        kind=str(KINDS[EntryKind(card.order.kind)]),
        late=card.late,
        now=now,
        doing=str(OPERATIONS[now.operation]) if now else "",
        caution=str(CAUTIONS_OF_WORK.get(now.operation, "")) if now else "",
        taps=card.taps,
        then=tuple(str(OPERATIONS[one]) for one in card.later),
        until=card.until,
        planned_for=card.planned_for,
        last=last,
        last_said=str(OPERATIONS[last]) if last else "",
        last_at=last_at,
        form_key=uuid4(),
    )
