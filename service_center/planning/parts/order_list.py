"""What the desk sees of each part: need with its range, when it may run out, and what to order by when."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

from django.utils.functional import Promise

from service_center.book.rules import EntryKind
from service_center.planning.parts.queries import Counted, counted_parts
from service_center.planning.rules.parts import Need, Rate, ToOrder, first_short_week, needs, order_up_to
from service_center.planning.rules.parts_needed import (
    LOOKS_AHEAD,
    orders_by_week,
    overhauls_ahead,
    there_by_week,
    weeks_over,
    weeks_to_cover,
)
from service_center.planning.rules.picture import Picture
from service_center.planning.rules.weeks import monday_of
from service_center.workshop.models import Part
from service_center.workshop.parts.ordered.queries import Awaited
from service_center.workshop.parts.rules import PartSort, usual_use
from service_center.workshop.parts.words import SORTS

COVERS = (13, 26, 52)
USUAL_COVER = 26


@dataclass(frozen=True, slots=True)
class PartRow:
    """One part. `rates` by kind of order; `needs`: over 13, 26 and 52 weeks; `waiting`: orders here that may use it yet.

    `short_on`: the day on which the shelf may be empty, as deliveries are expected; None within the weeks that are
    planned. `all_there_short_on`: the same, were everything that is on order there today. `packs`: of the order.
    """

    part: Part
    sort: str | Promise
    on_hand: int
    waiting: int
    awaited: Sequence[Awaited]
    rates: dict[EntryKind, Rate]
    needs: Sequence[Need]
    short_on: date | None
    all_there_short_on: date | None
    order: ToOrder
    packs: int
    as_of: date

    @property
    def on_order(self) -> int:
        return sum(one.quantity for one in self.awaited)

    @property
    def next_on(self) -> date | None:
        """The first day on which something is expected that is not overdue."""
        return min((one.expected_on for one in self.awaited if one.expected_on >= self.as_of), default=None)

    @property
    def late(self) -> int:
        return sum(one.quantity for one in self.awaited if one.expected_on < self.as_of)

    @property
    def comes_too_late(self) -> bool:
        """Whether the shelf may be empty before what is on order comes: no new order mends that, a word may."""
        return self.short_on is not None and self.short_on < (self.all_there_short_on or date.max)


@dataclass(frozen=True, slots=True)
class PartsList:
    """Parts to order today, those to order later, those of which enough is there, and those not counted yet.

    `pressing`: parts that may be missing before what is on order comes. `weeks`: how many of the coming weeks are
    planned.
    """

    pressing: list[PartRow]
    now: list[PartRow]
    later: list[PartRow]
    enough: list[PartRow]
    not_counted: list[Part]
    weeks: int


def parts_list(picture: Picture, as_of: date, cover: int) -> PartsList:
    """Every part in use, ordered to last `cover` weeks from delivery in nine cases of ten. Three statements."""
    counted, not_counted = counted_parts()
    overhauls = overhauls_ahead(picture, as_of)
    rows = _rows(counted, [_orders(one, overhauls, as_of) for one in counted], as_of, cover)
    to_order = sorted(
        (row for row in rows if row.order.by),
        key=lambda row: (row.order.by or date.max, row.order.runs_out or date.max, row.part.number),
    )
    return PartsList(
        pressing=sorted(
            (row for row in rows if row.comes_too_late), key=lambda row: (row.short_on or date.max, row.part.number)
        ),
        now=[row for row in to_order if row.order.by == as_of],
        later=[row for row in to_order if row.order.by != as_of],
        enough=[row for row in rows if not row.order.by],
        not_counted=not_counted,
        weeks=max((len(weeks) for weeks in overhauls.values()), default=0),
    )


def _orders(one: Counted, overhauls: dict[str, list[float]], as_of: date) -> list[list[float]]:
    over = weeks_over(one.outlook.as_of, as_of)
    ahead = {EntryKind(kind): weeks[over:] for kind, weeks in one.outlook.ahead.items()}
    return orders_by_week(overhauls, one.outlook.shares, ahead, one.waiting)


def rates_of(one: Counted) -> dict[EntryKind, Rate]:
    """How many of a part an order of each kind uses."""
    found = {}
    for kind in EntryKind:
        told = one.outlook.kinds.get(kind.value, {"used": 0, "orders": 0})
        found[kind] = Rate(told["used"], told["orders"], usual_use(kind, PartSort(one.part.sort)))
    return found


def _rows(
    counted: Sequence[Counted], orders: Sequence[Sequence[Sequence[float]]], as_of: date, cover: int
) -> list[PartRow]:
    rates = [rates_of(one) for one in counted]
    by_kind = [list(one.values()) for one in rates]
    sums = [
        [
            [sum(weeks[:ahead]) for ahead in (*LOOKS_AHEAD, weeks_to_cover(cover, one.part.delivery_days, len(weeks)))]
            for weeks in kinds
        ]
        for one, kinds in zip(counted, orders, strict=True)
    ]
    return [
        _row(one, of_part, first_short_days(list(of_part.values()), weeks, one, as_of), need, as_of)
        for one, of_part, weeks, need in zip(counted, rates, orders, needs(by_kind, sums), strict=True)
    ]


@dataclass(frozen=True, slots=True)
class ShortDays:
    """When the shelf may be empty, as deliveries are expected; and were everything that is on order there today."""

    expected: date | None
    all_there: date | None


def first_short_days(rates: Sequence[Rate], orders: Sequence[Sequence[float]], one: Counted, as_of: date) -> ShortDays:
    weeks = len(orders[0])
    there = there_by_week(one.on_hand, [(each.quantity, each.expected_on) for each in one.awaited], as_of, weeks)
    all_there = [one.on_hand + sum(each.quantity for each in one.awaited)] * weeks
    expected, later = (first_short_week(rates, orders, lies) for lies in (there, all_there))
    return ShortDays(_day(expected, as_of), _day(later, as_of))


def _day(week: int | None, as_of: date) -> date | None:
    return None if week is None else max(as_of, monday_of(as_of) + timedelta(weeks=week))


def _row(one: Counted, rates: dict[EntryKind, Rate], short: ShortDays, need: Sequence[Need], as_of: date) -> PartRow:
    """`need`: over the weeks looked ahead, and last over those that an order covers."""
    part = one.part
    order = order_up_to(
        need[-1].high, short.all_there, as_of=as_of,
        there=one.on_hand + sum(each.quantity for each in one.awaited), pack=part.pack,
        delivery_days=part.delivery_days,
    )  # fmt: skip
    return PartRow(
        part, SORTS[PartSort(part.sort)], one.on_hand, sum(one.waiting.values()), one.awaited, rates, need[:-1],
        short.expected, short.all_there, order, ceil(order.quantity / part.pack), as_of,
    )  # fmt: skip
