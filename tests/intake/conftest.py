"""A counter with a piece on it."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any
from uuid import uuid4

import pytest

from service_center.book.models import Piece
from service_center.book.rules import EntryKind, Tightness
from service_center.intake.actions import take_in
from service_center.intake.models import DropOff
from service_center.intake.rules import Asked
from service_center.pieces.actions import hand_back
from tests.factories import BoutiqueFactory, StaffFactory


def give_back(piece: Piece) -> None:
    """Its overhaul finished, the piece goes to its owner."""
    hand_back(
        piece,
        on=date(2026, 4, 1),
        at=datetime(2026, 4, 1, 15, tzinfo=UTC),
        by=StaffFactory(),
        kind=EntryKind.OVERHAUL,
        case_opened=True,
        tightness=Tightness.PASSED,
        note="",
        as_of=date(2026, 4, 1),
    )


@pytest.fixture
def take() -> Callable[..., DropOff]:
    """Take a piece in, on 2 March 2026 unless the sentence needs another day."""

    def deed(piece: Piece, **fields: Any) -> DropOff:
        usual = {
            "form_key": uuid4(),
            "boutique": fields.get("boutique") or piece.boutique or BoutiqueFactory(),
            "by": fields.get("by") or StaffFactory(),
            "taken_on": date(2026, 3, 2),
            "at": datetime(2026, 3, 2, 10, 30, tzinfo=UTC),
            "as_of": date(2026, 3, 2),
            "asked": [Asked.OVERHAUL],
            "owner_says": "It stops at night.",
            "left_with": "",
            "sitting": None,
        }
        return take_in(piece, **{**usual, **fields})

    return deed
