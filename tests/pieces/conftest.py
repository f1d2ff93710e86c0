"""A piece with a letter waiting about its overhaul, on a fixed day."""

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime

import pytest
import time_machine

from service_center.book.models import Piece
from service_center.intervals.actions import recompute
from service_center.intervals.models import DueDate
from service_center.letters.models import Letter, Reminder
from tests.factories import PieceFactory

TODAY = date(2026, 3, 10)


@pytest.fixture(autouse=True)
def _the_day() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 10, 9, 0, tzinfo=UTC), tick=False):
        yield


@pytest.fixture
def piece(db: None) -> Piece:
    """Sold on 17 May 2019: its overhaul opens in May 2025 and is due on 17 May 2026."""
    one: Piece = PieceFactory()
    recompute([one.pk], as_of=TODAY)
    return one


@pytest.fixture
def letter_about(piece: Piece) -> Callable[..., Letter]:
    def write(kind: str = "overhaul", state: str = "waiting") -> Letter:
        letter = Letter.objects.create(
            owner=piece.owner,
            language="en",
            planned_on=TODAY,
            state=state,
            not_before=datetime(2026, 3, 11, tzinfo=UTC),
        )
        due = DueDate.objects.get(piece=piece, kind=kind)
        Reminder.objects.create(
            piece=piece, kind=kind, starts_on=due.starts_on, step="invitation", letter=letter, due_on=due.due_on
        )
        return letter

    return write
