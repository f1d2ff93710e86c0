"""What lies before a watchmaker: what is on the bench, what to look at, what waits, what comes next."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from types import MappingProxyType

from django.db.models import F, Q
from django.utils import timezone

from service_center.access.models import Staff
from service_center.book.rules import EntryKind
from service_center.workshop.orders.models import WorkOrder
from service_center.workshop.orders.queries.open_orders import LeftToDo, OpenOrder, open_orders
from service_center.workshop.orders.rules.operations import UNKNOWN_IS, Operation
from service_center.workshop.orders.rules.steps import Standing, Step, next_step
from service_center.workshop.orders.rules.where_done import done_at, left_at

# Shares of the planned minutes that are offered at one tap; most work is near its plan. Ours to choose.
SHARES = (0.5, 0.75, 1.0, 1.25, 1.5, 2.0)
MORE_NEXT = 12
MORE_SHOWN = 40  # of a list that the whole house shares
# From here an order may be taken to a bench, where nothing else comes before it.
FREE = (Step.RECEIVED, Step.DIAGNOSED, Step.AGREED)
NOT_PLANNED: Mapping[str, date] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Card:
    """One order as the bench needs it. `now`: what is to be done next; `until`: before then the piece rests.

    `last`: what was finished last and when, where a wrong tap can be taken back still.
    """

    order: WorkOrder
    now: LeftToDo | None
    taps: tuple[int, ...]
    later: tuple[Operation, ...]
    until: datetime | None
    late: bool
    planned_for: date | None
    last: tuple[Operation, datetime] | None

    @property
    def done(self) -> bool:
        """Whether nothing is left to do where the order stands."""
        return self.now is None


@dataclass(frozen=True, slots=True)
class Queue:
    """The orders of one watchmaker: on their bench, resting, under control, and those that anybody may take.

    Of the lists that a whole house shares the first are here; `more_...` says how many wait behind them.
    """

    on_bench: list[Card]
    resting: list[Card]
    under_control: list[Card]
    to_look_at: list[Card]
    to_take: list[Card]
    more: int
    more_under_control: int
    more_to_look_at: int


@dataclass(frozen=True, slots=True)
class _Waiting:
    """An order that may stand in the queue, before anybody asks what is left to do at it."""

    pk: int
    number: str
    kind: EntryKind
    complexity: str
    step: Step
    asks_owner: bool | None

    @property
    def goes_to(self) -> Step | None:
        return next_step(Standing(self.kind, self.step, self.asks_owner))


def queue_of(
    staff: Staff, *, skills: frozenset[str] | None, now: datetime, planned: Mapping[str, date] = NOT_PLANNED
) -> Queue:
    """The queue of a watchmaker; `skills` None: whatever there is. Four statements.

    What others have on their benches is not in it. `planned`: orders that the week's plan gives this watchmaker, in its
    order; they come first, whatever skills they ask for. Then the earliest promise. What lies on one's own bench is there
    whatever it asks for, too.
    """
    turns = {number: turn for turn, number in enumerate(planned)}
    found = [
        one
        for one in _waiting(staff)
        if skills is None or one.complexity in skills or one.number in turns or one.step is Step.ON_THE_BENCH
    ]
    found.sort(key=lambda one: turns.get(one.number, len(turns)))  # stable: promises keep their order
    mine = [one.pk for one in found if one.step is Step.ON_THE_BENCH]
    control = [one.pk for one in found if one.step is Step.UNDER_CONTROL]
    take = [one.pk for one in found if one.step in FREE and one.goes_to is Step.ON_THE_BENCH]
    look = [one.pk for one in found if one.step is Step.RECEIVED and one.goes_to is Step.DIAGNOSED]
    shown = [*mine, *control[:MORE_SHOWN], *take[:MORE_NEXT], *look[:MORE_SHOWN]]
    cards = _cards(shown, now, planned)
    on_bench = [cards[pk] for pk in mine if pk in cards]
    return Queue(
        on_bench=[card for card in on_bench if card.until is None],
        resting=[card for card in on_bench if card.until],
        under_control=[cards[pk] for pk in control[:MORE_SHOWN] if pk in cards],
        to_look_at=[cards[pk] for pk in look[:MORE_SHOWN] if pk in cards],
        to_take=[cards[pk] for pk in take[:MORE_NEXT] if pk in cards],
        more=max(0, len(take) - MORE_NEXT),
        more_under_control=max(0, len(control) - MORE_SHOWN),
        more_to_look_at=max(0, len(look) - MORE_SHOWN),
    )


def _waiting(staff: Staff) -> list[_Waiting]:
    """What lies on the watchmaker's bench, and what nobody has, by promise; of those in the house a few columns each."""
    own = Q(step=Step.ON_THE_BENCH.value, bench=staff.pk)
    anybodys = Q(step__in=[Step.UNDER_CONTROL.value, *(one.value for one in FREE)])
    rows = (
        WorkOrder.objects.filter(own | anybodys, closed_on=None)
        .order_by(F("promised_on").asc(nulls_last=True), "pk")
        .values_list("pk", "number", "kind", "complexity", "step", "asks_owner")
    )
    return [
        _Waiting(pk, number, EntryKind(kind), complexity or UNKNOWN_IS.value, Step(step), asks)
        for pk, number, kind, complexity, step, asks in rows
    ]


def _cards(shown: list[int], now: datetime, planned: Mapping[str, date]) -> dict[int, Card]:
    orders = WorkOrder.objects.select_related("piece__model__calibre", "boutique").in_bulk(shown)
    return {
        one.pk: _card(one, orders[one.pk], now, planned.get(one.number))
        for one in open_orders(shown)
        if one.pk in orders
    }


def in_turn(planned: Iterable[tuple[str, date]]) -> dict[str, date]:
    """Orders with the first day that the week's plan has for each, in the order of that plan."""
    found: dict[str, date] = {}
    for number, day in planned:
        found.setdefault(number, day)
    return found


def _card(one: OpenOrder, order: WorkOrder, now: datetime, planned_for: date | None) -> Card:
    left = {each.operation: each for each in one.left}
    here = [left[operation] for operation in left_at(one.step, left)]
    until = one.finished_at + timedelta(hours=one.waits_hours) if one.finished_at and one.waits_hours else None
    resting = until if until and until > now and here else None
    return Card(
        order=order,
        now=here[0] if here else None,
        taps=taps(here[0].time.minutes) if here else (),
        later=tuple(left.operation for left in here[1:]),
        until=resting,
        late=one.promised_on is not None and one.promised_on < timezone.localdate(now),
        planned_for=planned_for,
        last=_last(one),
    )


def _last(one: OpenOrder) -> tuple[Operation, datetime] | None:
    if one.last_finished is None or one.finished_at is None or one.step not in done_at(one.last_finished):
        return None
    return one.last_finished, one.finished_at


def taps(planned: int) -> tuple[int, ...]:
    """Minutes that are offered at one tap, in fives, around the planned ones."""
    rounded = {max(5, 5 * round(planned * share / 5)) for share in SHARES}
    return tuple(sorted(rounded | {planned} if planned else rounded))
