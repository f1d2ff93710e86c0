"""What is stored is what the facts say, on the day it is of."""

from datetime import UTC, date, datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from service_center.book.actions import move_piece
from service_center.book.models import Piece
from service_center.book.rules import Place
from service_center.intervals.actions import bring_to, recompute
from service_center.intervals.models import DueDate, IntervalRule
from tests.factories import BoutiqueFactory, PieceFactory, WatchModelFactory, history

pytestmark = pytest.mark.django_db
MARCH = date(2026, 3, 1)


def stored(piece: Piece, kind: str = "overhaul") -> tuple[str, str] | None:
    row = DueDate.objects.filter(piece=piece, kind=kind).first()
    return (str(row.due_on), row.held) if row else None


def add_rule(**changes) -> IntervalRule:
    values = {
        "code": "R1",
        "kind": "overhaul",
        "scope": "house",
        "scope_value": "",
        "use": "any",
        "opens_months": 48,
        "due_months": 60,
        "closes_months": 72,
        "in_force_from": date(2000, 1, 1),
        "covers_running": False,
    }
    return IntervalRule.objects.create(**{**values, **changes})


def test_a_new_fact_moves_the_stored_date() -> None:
    piece = PieceFactory()
    recompute([piece.pk], as_of=MARCH)
    assert stored(piece) == ("2026-05-17", "")
    entry = history(piece, "2026-02-01")
    recompute([piece.pk], as_of=MARCH)
    assert stored(piece) == ("2033-02-01", "")
    row = DueDate.objects.get(piece=piece, kind="overhaul")
    assert (row.start_fact, row.start_entry, row.rule) == ("overhaul", entry, None)


def test_a_kind_that_no_longer_applies_leaves_no_row() -> None:
    piece = PieceFactory()
    recompute([piece.pk], as_of=MARCH)
    piece.model = WatchModelFactory(rated_bar=None)
    piece.save()
    recompute([piece.pk], as_of=MARCH)
    assert stored(piece, "tightness") is None
    assert stored(piece) is not None


def test_a_piece_taken_in_is_stored_as_held_until_it_is_handed_back() -> None:
    piece = PieceFactory()
    counter = BoutiqueFactory()
    move_piece(piece, to=Place.BOUTIQUE, boutique=counter, at=datetime(2026, 2, 1, 12, tzinfo=UTC), by=None)
    recompute([piece.pk], as_of=MARCH)
    assert stored(piece) == ("2026-05-17", "workshop")
    move_piece(piece, to=Place.OWNER, boutique=None, at=datetime(2026, 2, 20, 12, tzinfo=UTC), by=None)
    recompute([piece.pk], as_of=MARCH)
    assert stored(piece) == ("2026-05-17", "")


def test_one_new_fact_costs_the_same_few_statements_whatever_the_size_of_the_book() -> None:
    piece = PieceFactory()
    history(piece, "2023-03-02")
    costs = []
    for others in (0, 20):
        for _ in range(others):
            history(PieceFactory(), "2023-03-02")
        history(piece, f"2026-02-{others + 1:02d}")
        with CaptureQueriesContext(connection) as statements:
            recompute([piece.pk], as_of=MARCH)
        costs.append(len(statements))
    assert costs[0] == costs[1] <= 16


def test_a_fact_dated_ahead_counts_from_its_day_on() -> None:
    piece = PieceFactory()
    recompute(None, as_of=MARCH)
    history(piece, "2026-03-10")
    recompute([piece.pk], as_of=MARCH)
    assert stored(piece) == ("2026-05-17", "")
    bring_to(as_of=date(2026, 3, 9))
    assert stored(piece) == ("2026-05-17", "")
    assert bring_to(as_of=date(2026, 3, 10)).pieces == 1
    assert stored(piece) == ("2033-03-10", "")


def test_going_back_a_day_takes_the_fact_of_that_day_out_again() -> None:
    piece = PieceFactory()
    history(piece, "2026-03-10")
    recompute(None, as_of=date(2026, 3, 10))
    bring_to(as_of=date(2026, 3, 9))
    assert stored(piece) == ("2026-05-17", "")


def test_a_piece_worked_out_for_a_later_day_is_brought_back_with_the_rest() -> None:
    piece = PieceFactory()
    recompute(None, as_of=MARCH)
    history(piece, "2026-03-10")
    recompute([piece.pk], as_of=date(2026, 3, 10))
    bring_to(as_of=date(2026, 3, 5))
    assert stored(piece) == ("2026-05-17", "")


def test_a_quiet_day_works_nothing_out() -> None:
    PieceFactory()
    assert bring_to(as_of=MARCH).pieces == 1
    assert bring_to(as_of=date(2026, 3, 2)).pieces == 0


def test_a_rule_that_covers_running_intervals_moves_the_whole_book_on_its_day() -> None:
    piece = PieceFactory()
    add_rule()
    add_rule(code="R2", in_force_from=date(2026, 3, 2), due_months=66, covers_running=True)
    bring_to(as_of=MARCH)
    assert stored(piece) == ("2024-05-17", "")
    bring_to(as_of=date(2026, 3, 2))
    assert stored(piece) == ("2024-11-17", "")
    row = DueDate.objects.get(piece=piece, kind="overhaul")
    assert row.rule is not None
    assert row.rule.code == "R2"
