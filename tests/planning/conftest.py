"""A small house with benches, and pieces that are due."""

from collections.abc import Callable
from datetime import date

import pytest

from service_center.book.models import Piece, WatchModel
from service_center.planning.models import SkillHours
from tests.factories import CalibreFactory, PieceFactory, WatchModelFactory

AS_OF = date(2026, 11, 25)  # a Wednesday, 2026-W48


@pytest.fixture
def benches(db: None) -> None:
    for skill, hours in (("simple", 10), ("automatic", 22)):
        SkillHours.objects.create(skill=skill, hours_a_week=hours, in_force_from=date(2020, 1, 6))


@pytest.fixture
def model(db: None) -> WatchModel:
    made: WatchModel = WatchModelFactory(calibre=CalibreFactory(complexity="automatic"))
    return made


@pytest.fixture
def sold(model: WatchModel) -> Callable[..., list[Piece]]:
    """So many pieces sold on a day: with the house defaults their overhaul opens 6, is due 7, closes 8 years later."""

    def make(number: int, on: str, **fields: object) -> list[Piece]:
        return PieceFactory.create_batch(number, **{"model": model, "sold_on": date.fromisoformat(on), **fields})

    return make
