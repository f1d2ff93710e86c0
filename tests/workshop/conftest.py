"""A piece that was just taken in, with its order."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from service_center.access.models import Staff
from service_center.book.actions import move_piece
from service_center.book.rules import EntryKind, Place
from service_center.workshop.models import WorkOrder
from service_center.workshop.orders.actions import open_order
from tests.factories import PieceFactory, StaffFactory

DAY = date(2026, 3, 3)
AT = datetime(2026, 3, 3, 10, 0, tzinfo=UTC)


@pytest.fixture
def watchmaker() -> Staff:
    return StaffFactory(role="watchmaker")


@pytest.fixture
def taken_in(watchmaker: Staff) -> Callable[..., WorkOrder]:
    """An order of a kind, as a drop-off opens it."""
    made = 0

    def make(kind: str = "overhaul", **piece: Any) -> WorkOrder:
        nonlocal made
        made += 1
        one = PieceFactory(**piece)
        move_piece(one, to=Place.BOUTIQUE, boutique=one.boutique, at=AT, by=watchmaker)
        return open_order(
            one,
            number=f"R-{made:06d}",
            boutique=one.boutique,
            asked=[EntryKind(kind)],
            opened_on=DAY,
            at=AT,
            by=watchmaker,
            promised_on=DAY + timedelta(days=30),
        )

    return make
