"""What the desk sees of each part: need with its range, when it may run out, and what to order by when."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

from django.utils.functional import Promise

from service_center.planning.parts.queries import Counted, counted_parts
from service_center.planning.rules.parts import Need, Rate, ToOrder, first_short_week, needs, order_up_to
from service_center.planning.rules.parts_needed import LOOKS_AHEAD, orders_by_week, overhauls_ahead, weeks_to_cover
from service_center.planning.rules.picture import Picture
from service_center.planning.rules.weeks import monday_of
from service_center.workshop.models import Part
from service_center.workshop.parts.rules import USUAL_AT_OVERHAUL, PartSort
from service_center.workshop.parts.words import SORTS

COVERS = (13, 26, 52)
USUAL_COVER = 26


@dataclass(frozen=True, slots=True)
class PartRow:
    """One part. `needs`: over 13, 26 and 52 weeks; `waiting`: orders here that may use it yet; `short_on`: the day on
    which the shelf may be empty, None within the weeks that are planned; `packs`: of the order."""

    part: Part
    sort: str | Promise
    on_hand: int
    waiting: int
    needs: Sequence[Need]
    short_on: date | None
    order: ToOrder
    packs: int


@dataclass(frozen=True, slots=True)
class PartsList:
    """Parts to order today, those to order later, those of which enough is there, and those not counted yet.

    `weeks`: how many of the coming weeks are planned.
    """

    now: list[PartRow]
    later: list[PartRow]
    enough: list[PartRow]
    not_counted: list[Part]
    weeks: int


def parts_list(picture: Picture, as_of: date, cover: int) -> PartsList:
    """Every part in use, ordered to last `cover` weeks from delivery in nine cases of ten. Two statements."""
    counted, not_counted = counted_parts()
    overhauls = overhauls_ahead(picture, as_of)
    rows = _rows(counted, [orders_by_week(overhauls, one.outlook.shares, one.waiting) for one in counted], as_of, cover)
    to_order = sorted(
        (row for row in rows if row.order.by),
        key=lambda row: (row.order.by or date.max, row.order.runs_out or date.max, row.part.number),
    )
    return PartsList(
        now=[row for row in to_order if row.order.by == as_of],
        later=[row for row in to_order if row.order.by != as_of],
        enough=[row for row in rows if not row.order.by],
        not_counted=not_counted,
        weeks=max((len(weeks) for weeks in overhauls.values()), default=0),
    )


def _rows(counted: Sequence[Counted], orders: Sequence[Sequence[float]], as_of: date, cover: int) -> list[PartRow]:
    rates = [Rate(one.outlook.used, one.outlook.orders, USUAL_AT_OVERHAUL[PartSort(one.part.sort)]) for one in counted]
    sums = [
        [sum(weeks[:ahead]) for ahead in (*LOOKS_AHEAD, weeks_to_cover(cover, one.part.delivery_days, len(weeks)))]
        for one, weeks in zip(counted, orders, strict=True)
    ]
    return [
        _row(one, first_short_week(rate, weeks, one.on_hand), need, as_of)
        for one, rate, weeks, need in zip(counted, rates, orders, needs(rates, sums), strict=True)
    ]


def _row(one: Counted, week: int | None, need: Sequence[Need], as_of: date) -> PartRow:
    """`need`: over the weeks looked ahead, and last over those that an order covers."""
    short_on = None if week is None else max(as_of, monday_of(as_of) + timedelta(weeks=week))
    part = one.part
    order = order_up_to(
        need[-1].high, short_on, as_of=as_of, on_hand=one.on_hand, pack=part.pack, delivery_days=part.delivery_days
    )
    return PartRow(
        part, SORTS[PartSort(part.sort)], one.on_hand, one.waiting, need[:-1], short_on, order,
        ceil(order.quantity / part.pack),
    )  # fmt: skip
