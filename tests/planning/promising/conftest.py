"""A house with a bench, and pieces that are taken in."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from service_center.book.actions import move_piece
from service_center.book.models import WatchModel
from service_center.book.rules import EntryKind, Place
from service_center.workshop.calendars.actions import add_watchmaker
from service_center.workshop.calendars.models import Watchmaker
from service_center.workshop.models import WorkOrder
from service_center.workshop.orders.actions import open_order
from tests.factories import CalibreFactory, PieceFactory, StaffFactory, WatchModelFactory
from tests.planning.promising.house import MONDAY

EIGHT_HOURS = [480] * 5 + [0, 0]


@pytest.fixture
def employ(db: None) -> Callable[..., Watchmaker]:
    """Give somebody a bench of eight hours from Monday to Friday."""

    def deed(name: str = "Nora", *skills: str, minutes: list[int] = EIGHT_HOURS, **fields: Any) -> Watchmaker:
        return add_watchmaker(
            name=name,
            first_day=date(2020, 1, 6),
            last_day=None,
            account=None,
            minutes=minutes,
            skills=dict.fromkeys(skills or ("simple", "automatic", "chronograph", "complicated")),
            by=None,
            **fields,
        )

    return deed


@pytest.fixture
def automatic(db: None) -> WatchModel:
    made: WatchModel = WatchModelFactory(calibre=CalibreFactory(complexity="automatic"), rated_bar=10)
    return made


@pytest.fixture
def taken_in(automatic: WatchModel) -> Callable[..., WorkOrder]:
    """An order of a kind as a drop-off opens it, on the Monday before."""
    made = 0

    def deed(kind: str = "overhaul", *, promised_on: date | None = None, **fields: Any) -> WorkOrder:
        nonlocal made
        made += 1
        piece, by = PieceFactory(model=automatic), StaffFactory()
        day = MONDAY - timedelta(days=7)
        at = datetime(day.year, day.month, day.day, 10, tzinfo=UTC)
        move_piece(piece, to=Place.BOUTIQUE, boutique=piece.boutique, at=at, by=by)
        return open_order(
            piece,
            number=f"P-{made:06d}",
            boutique=piece.boutique,
            asked=[EntryKind(kind)],
            opened_on=day,
            at=at,
            by=by,
            promised_on=promised_on,
            **fields,
        )

    return deed
