"""A book with due dates, and a mail server to write to."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import pytest

from service_center.book.models import Piece
from service_center.intervals.actions import recompute
from service_center.letters.actions import RoundResult, SendResult, daily_round, send_waiting
from service_center.letters.models import Letter
from service_center.letters.rules.unusual import Asked
from tests.factories import PieceFactory

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


@pytest.fixture
def due_piece(db: None) -> Callable[..., Piece]:
    """A piece without pressure rating, sold on 17 May 2019: its overhaul is due on 17 May 2026 (84 months)."""

    def make(**fields: Any) -> Piece:
        fields.setdefault("model__rated_bar", None)
        piece: Piece = PieceFactory(**fields)
        return piece

    return make


def round_on(day: str, **options: Any) -> RoundResult:
    """The round of an ISO day, which somebody has looked at: tests leap from step to step."""
    return daily_round(as_of=date.fromisoformat(day), now=NOW, **{"asked": Asked.CONFIRMED, **options})


def send(day: str | None = None, **options: Any) -> SendResult:
    """Hand over everything that is ready, as of an ISO day or now."""
    as_of = date.fromisoformat(day) if day else None
    return send_waiting(now=NOW, as_of=as_of, until_empty=True, **options)


def come_morning() -> None:
    """Whoever waits for a morning has it: what the desk lets go on a day off, or in the evening, leaves later."""
    Letter.objects.filter(state="waiting").update(not_before=NOW)


def recount(day: str) -> None:
    """Work out every piece's due dates anew, as whoever writes down a fact does."""
    recompute(list(Piece.objects.values_list("pk", flat=True)), as_of=date.fromisoformat(day))


def only_letter() -> Letter:
    return Letter.objects.select_related("owner").get()
