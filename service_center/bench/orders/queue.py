"""What lies before a watchmaker: what is on the bench, what to look at, what waits, what comes next."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from types import MappingProxyType

from service_center.access.models import Staff
from service_center.workshop.orders.models import WorkOrder
from service_center.workshop.orders.queries.open_orders import LeftToDo, OpenOrder, open_orders
from service_center.workshop.orders.rules.operations import AT_CONTROL, AT_RECEPTION, Operation
from service_center.workshop.orders.rules.steps import Standing, Step, next_step

# Shares of the planned minutes that are offered at one tap; most work is near its plan. Ours to choose.
SHARES = (0.5, 0.75, 1.0, 1.25, 1.5, 2.0)
MORE_NEXT = 12
NOT_PLANNED: Mapping[str, date] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Card:
    """One order as the bench needs it. `now`: what is to be done next; `until`: before then the piece rests."""

    order: WorkOrder
    now: LeftToDo | None
    taps: tuple[int, ...]
    later: tuple[Operation, ...]
    until: datetime | None
    late: bool
    planned_for: date | None

    @property
    def done(self) -> bool:
        """Whether nothing is left to do where the order stands."""
        return self.now is None


@dataclass(frozen=True, slots=True)
class Queue:
    """The orders of one watchmaker: on their bench, resting, under control, and those that anybody may take."""

    on_bench: list[Card]
    resting: list[Card]
    under_control: list[Card]
    to_look_at: list[Card]
    to_take: list[Card]
    more: int


def queue_of(
    staff: Staff, *, skills: frozenset[str] | None, now: datetime, planned: Mapping[str, date] = NOT_PLANNED
) -> Queue:
    """The queue of a watchmaker; `skills` None: whatever there is. Three statements.

    What others have on their benches is not in it. `planned`: orders that the week's plan gives this watchmaker, in its
    order; they come first, whatever skills they ask for. Then the earliest promise.
    """
    found = open_orders()
    orders = {
        order.pk: order
        for order in WorkOrder.objects.filter(closed_on=None).select_related("piece__model__calibre", "boutique")
    }
    turns = {number: turn for turn, number in enumerate(planned)}
    found.sort(key=lambda one: turns.get(one.number, len(turns)))  # stable: promises keep their order
    cards = [
        (one, _card(one, orders[one.pk], now, planned.get(one.number)))
        for one in found
        if one.pk in orders and (skills is None or one.complexity in skills or one.number in turns)
    ]
    mine = [card for one, card in cards if one.step is Step.ON_THE_BENCH and one.bench == staff.pk]
    take = [card for one, card in cards if _free(one)]
    return Queue(
        on_bench=[card for card in mine if card.until is None],
        resting=[card for card in mine if card.until],
        under_control=[card for one, card in cards if one.step is Step.UNDER_CONTROL],
        to_look_at=[card for one, card in cards if _to_look_at(one)],
        to_take=take[:MORE_NEXT],
        more=max(0, len(take) - MORE_NEXT),
    )


def in_turn(planned: Iterable[tuple[str, date]]) -> dict[str, date]:
    """Orders with the first day that the week's plan has for each, in the order of that plan."""
    found: dict[str, date] = {}
    for number, day in planned:
        found.setdefault(number, day)
    return found


def _free(one: OpenOrder) -> bool:
    """Whether the order can be taken to a bench now."""
    if one.step not in (Step.RECEIVED, Step.DIAGNOSED, Step.AGREED):
        return False
    return next_step(Standing(one.kind, one.step, one.asks_owner)) is Step.ON_THE_BENCH


def _to_look_at(one: OpenOrder) -> bool:
    return one.step is Step.RECEIVED and next_step(Standing(one.kind, one.step, one.asks_owner)) is Step.DIAGNOSED


def _card(one: OpenOrder, order: WorkOrder, now: datetime, planned_for: date | None) -> Card:
    here = _done_here(one.step, one.left)
    until = one.finished_at + timedelta(hours=one.waits_hours) if one.finished_at and one.waits_hours else None
    resting = until if until and until > now and here else None
    return Card(
        order=order,
        now=here[0] if here else None,
        taps=taps(here[0].time.minutes) if here else (),
        later=tuple(left.operation for left in here[1:]),
        until=resting,
        late=one.promised_on is not None and one.promised_on < now.date(),
        planned_for=planned_for,
    )


def _done_here(step: Step, left: Iterable[LeftToDo]) -> list[LeftToDo]:
    """What is done at this step, of all that is left: the control's own work waits for the control."""
    if step is Step.UNDER_CONTROL:
        return list(left)
    if step is Step.RECEIVED:
        return [one for one in left if one.operation in AT_RECEPTION]
    return [one for one in left if one.operation not in AT_CONTROL]


def taps(planned: int) -> tuple[int, ...]:
    """Minutes that are offered at one tap, in fives, around the planned ones."""
    rounded = {max(5, 5 * round(planned * share / 5)) for share in SHARES}
    return tuple(sorted(rounded | {planned} if planned else rounded))
