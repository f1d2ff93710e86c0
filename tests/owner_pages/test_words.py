"""What an owner reads of a due date, in English."""

from datetime import date

import pytest

from service_center.book.models import Piece
from service_center.intervals.owner_words import caution, kind_in_words, owner_sentence, when_in_words
from service_center.intervals.queries import due_of
from service_center.intervals.rules import Due
from tests.factories import PieceFactory, history

AS_OF = date(2026, 6, 5)


def dues(piece: Piece) -> tuple[Due, Due]:
    """The overhaul and the tightness check of a piece."""
    overhaul, tightness = due_of(piece, AS_OF)
    return overhaul, tightness


@pytest.mark.django_db
def test_a_piece_that_was_never_serviced_counts_from_its_sale() -> None:
    overhaul, tightness = dues(PieceFactory())
    assert owner_sentence(overhaul) == (
        "It was sold on 17 May 2019 and we know of no overhaul since; the oil in the movement ages, so one is "
        "recommended after 7 years."
    )
    assert owner_sentence(tightness).startswith("It was sold on 17 May 2019 and we know of no tightness test since;")
    assert owner_sentence(tightness).endswith("recommended after 1 year.")


@pytest.mark.django_db
def test_a_serviced_piece_counts_from_its_service() -> None:
    piece = PieceFactory(use="in_water")
    history(piece, "2025-03-02")
    overhaul, tightness = dues(piece)
    assert owner_sentence(overhaul).startswith("Its last overhaul was on 2 March 2025;")
    assert owner_sentence(tightness).endswith("recommended after 6 months.")


@pytest.mark.django_db
def test_time_in_stock_and_making_are_named_as_what_they_are() -> None:
    lay_long = PieceFactory(made_on=date(2012, 1, 10), sold_on=date(2019, 5, 17))
    assert "in stock" in owner_sentence(dues(lay_long)[0])
    assert "10 January 2015" in owner_sentence(dues(lay_long)[0])
    unsold = PieceFactory(sold_on=None)
    assert owner_sentence(dues(unsold)[0]).startswith("It was made on 5 November 2018")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ({"kind": "repair", "case_opened": True, "tightness": "not_tested"}, "Its case was opened on 2 March 2026"),
        (
            {"kind": "tightness_check", "case_opened": False, "tightness": "failed"},
            "It failed a tightness test on 2 Mar",
        ),
    ],
)
def test_a_test_that_is_owed_says_why_and_warns_of_water(entry: dict[str, object], words: str) -> None:
    piece = PieceFactory()
    history(piece, "2026-03-02", **entry)
    overhaul, tightness = dues(piece)
    assert owner_sentence(tightness).startswith(words)
    assert when_in_words(tightness, AS_OF) == "due now"
    assert "away from water" in caution(tightness)
    assert caution(overhaul) == ""


@pytest.mark.django_db
def test_a_day_ahead_is_due_on_and_a_day_behind_due_since() -> None:
    overhaul, _tightness = dues(PieceFactory())
    assert kind_in_words(overhaul.kind) == "Overhaul"
    assert when_in_words(overhaul, date(2026, 5, 16)) == "due on 17 May 2026"
    assert when_in_words(overhaul, date(2026, 5, 17)) == "due since 17 May 2026"


@pytest.mark.django_db
def test_without_a_start_nothing_is_said() -> None:
    overhaul, _tightness = dues(PieceFactory(made_on=None, sold_on=None))
    assert owner_sentence(overhaul) == ""
    assert when_in_words(overhaul, AS_OF) == ""
