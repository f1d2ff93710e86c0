"""What stops a drop-off, which cautions a piece calls for, and how a receipt's number is read."""

from datetime import date

import pytest

from service_center.book.rules import Place, Status, Winding
from service_center.intake.rules import Asked, Caution, Stop, cautions_for, number_meant, number_of, stop_for


@pytest.mark.parametrize(
    ("status", "place", "stop"),
    [
        (Status.IN_USE, Place.OWNER, None),
        (Status.RETIRED, Place.OWNER, None),
        (Status.LOST, Place.OWNER, Stop.LOST),
        (Status.STOLEN, Place.OWNER, Stop.STOLEN),
        (Status.STOLEN, Place.BOUTIQUE, Stop.STOLEN),
        (Status.IN_USE, Place.BOUTIQUE, Stop.ALREADY_IN),
        (Status.IN_USE, Place.WORKSHOP, Stop.ALREADY_IN),
    ],
)
def test_a_lost_or_stolen_piece_and_one_that_is_here_are_not_taken_in(status, place, stop):
    assert stop_for(status, place) is stop


@pytest.mark.parametrize(
    ("made_on", "winding", "asked", "cautions"),
    [
        (date(2019, 1, 1), Winding.AUTOMATIC, [], []),
        (date(1995, 1, 1), Winding.HAND, [], [Caution.LUMINOUS]),
        (None, None, [], [Caution.LUMINOUS]),
        (date(2019, 1, 1), Winding.QUARTZ, [], [Caution.CELL]),
        (date(2019, 1, 1), None, [Asked.BATTERY], [Caution.CELL]),
    ],
)
def test_every_list_of_cautions_ends_with_local_codes(made_on, winding, asked, cautions):
    assert cautions_for(made_on=made_on, winding=winding, asked=asked) == [*cautions, Caution.LOCAL_CODES]


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("R-000123", "R-000123"), ("r123", "R-000123"), (" R-1234567 ", "R-1234567"),
        ("FH21-000123", None), ("123", None), ("R", None), ("R-", None), ("", None), ("R-12a", None), ("R²", None),
    ],
)  # fmt: skip
def test_a_receipts_number_is_read_however_it_is_typed(typed, meant):
    assert number_meant(typed) == meant
    assert number_of(123) == "R-000123"
