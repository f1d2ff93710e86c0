"""Parts and what is done with them, on one day."""

from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4

from service_center.access.models import Staff
from service_center.book.actions import move_piece
from service_center.book.models import Piece
from service_center.book.rules import EntryKind, Place
from service_center.intervals.actions import bring_to
from service_center.planning.actions import tick
from service_center.planning.parts.actions import count_parts_daily
from service_center.planning.parts.order_list import PartRow, PartsList, parts_list
from service_center.planning.parts.queries import counted_parts
from service_center.planning.queries.pictures import latest_picture
from service_center.workshop.models import Part, WorkOrder
from service_center.workshop.orders.actions import open_order
from service_center.workshop.parts.actions import move_stock
from service_center.workshop.parts.ordered.actions import write_order
from service_center.workshop.parts.ordered.rules import Line
from service_center.workshop.parts.rules import StockReason

DAY = date(2026, 11, 25)
AT = datetime(2026, 11, 25, 9, tzinfo=UTC)


def part(number: str = "GK-10", **fields: Any) -> Part:
    return Part.objects.create(
        **{"number": number, "name": "Case back gasket", "sort": "gasket", "pack": 10, "delivery_days": 14} | fields
    )


def laid(one: Part, quantity: int, by: Staff) -> None:
    move_stock(one, quantity, StockReason.DELIVERED, at=AT, by=by, form_key=uuid4())


def taken_in(piece: Piece, by: Staff, number: int = 1) -> WorkOrder:
    move_piece(piece, to=Place.BOUTIQUE, boutique=piece.boutique, at=AT, by=by)
    return open_order(
        piece, number=f"R-{number:06d}", boutique=piece.boutique, asked=[EntryKind.OVERHAUL], opened_on=DAY,
        at=AT, by=by,
    )  # fmt: skip


def on_the_day() -> None:
    bring_to(as_of=DAY)
    tick(as_of=DAY, now=AT)


def waits(*parts: Part) -> dict[int, int]:
    """The orders that wait for each part, as a page reads it of the last count."""
    count_parts_daily(as_of=DAY, now=AT)
    return {one.part.pk: sum(one.waiting.values()) for one in counted_parts()[0] if one.part in parts}


def listed(cover: int = 26) -> PartsList:
    picture = latest_picture(52).picture
    assert picture
    return parts_list(picture, DAY, cover)


def row_of(one: Part, cover: int = 26) -> PartRow:
    found = listed(cover)
    return next(row for row in [*found.now, *found.later, *found.enough] if row.part == one)


def on_order(one: Part, quantity: int, expected_on: date, by: Staff) -> None:
    write_order(
        [Line(one.pk, quantity, expected_on)], supplier="", reference="", ordered_on=DAY - timedelta(days=30), at=AT,
        by=by, form_key=uuid4(),
    )  # fmt: skip
