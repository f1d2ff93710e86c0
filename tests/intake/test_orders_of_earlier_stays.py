"""Pieces that came in before there were work orders get theirs from their drop-off, those that went home do not."""

from collections.abc import Callable
from datetime import date
from importlib import import_module
from typing import Any

import pytest
from django.apps import apps

from service_center.book.actions import move_piece
from service_center.book.rules import Place
from service_center.intake import actions
from service_center.intake.models import DropOff
from service_center.intake.rules import Asked
from service_center.workshop.models import WorkOrder
from tests.factories import PieceFactory
from tests.intake.conftest import give_back
from tests.workshop.hands import at

pytestmark = pytest.mark.django_db
Take = Callable[..., DropOff]
migration: Any = import_module("service_center.intake.migrations.0008_orders_of_pieces_in_the_house")


@pytest.fixture
def before_orders(take: Take, monkeypatch: pytest.MonkeyPatch) -> Take:
    """A drop-off as it was made before there were orders."""

    def deed(*args: Any, **fields: Any) -> DropOff:
        with monkeypatch.context() as then:
            then.setattr(actions, "open_order", lambda *_args, **_fields: None)
            return take(*args, **fields)

    return deed


def migrate() -> None:
    migration.open_orders(apps, None)


def test_a_piece_in_the_house_gets_the_order_of_its_latest_drop_off(before_orders: Take) -> None:
    piece = PieceFactory()
    before_orders(piece, asked=[Asked.STRAP])
    move_piece(piece, to=Place.OWNER, boutique=None, at=at(date(2026, 3, 5)), by=None)
    drop_off = before_orders(piece, asked=[Asked.CHECK, Asked.OVERHAUL])
    migrate()
    order = WorkOrder.objects.get()
    assert (order.number, order.piece, order.kind, order.step) == (drop_off.number, piece, "overhaul", "logged")
    assert order.opened_at == drop_off.move.since
    assert order.operations.count() == 11
    assert [(move.step, move.place) for move in order.moves.all()] == [("logged", "boutique")]


def test_a_piece_that_went_home_gets_none_and_a_second_run_adds_nothing(before_orders: Take) -> None:
    here, home = PieceFactory(), PieceFactory()
    for piece in (here, home):
        before_orders(piece)
    move_piece(home, to=Place.OWNER, boutique=None, at=at(date(2026, 3, 5)), by=None)
    migrate()
    migrate()
    assert [order.piece for order in WorkOrder.objects.all()] == [here]


def test_what_was_taken_in_before_goes_through_the_workshop_like_any_other(before_orders: Take) -> None:
    piece = PieceFactory()
    before_orders(piece)
    migrate()
    give_back(piece)
    assert WorkOrder.objects.get().step == "handed_back"
