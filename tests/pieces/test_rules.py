"""What makes sense when work is written down."""

from datetime import date

import pytest

from service_center.book.rules import EntryKind, Tightness
from service_center.pieces.rules import day_refused, leaves_a_test_owed, must_open_the_case

MADE = date(2018, 11, 5)
TODAY = date(2026, 3, 10)


@pytest.mark.parametrize(
    ("day", "refused"),
    [
        (date(2018, 11, 4), "before_making"),
        (date(2018, 11, 5), ""),
        (date(2026, 3, 10), ""),
        (date(2026, 3, 11), "future"),
    ],
)
def test_work_lies_between_the_making_and_today_both_included(day: date, refused: str) -> None:
    assert day_refused(day, made_on=MADE, as_of=TODAY) == refused


def test_where_the_making_is_not_known_any_past_day_may_be() -> None:
    assert day_refused(date(1931, 1, 1), made_on=None, as_of=TODAY) == ""


def test_an_overhaul_and_a_new_cell_open_the_case_the_rest_may_not() -> None:
    assert {kind for kind in EntryKind if must_open_the_case(kind)} == {EntryKind.OVERHAUL, EntryKind.BATTERY}


@pytest.mark.parametrize(
    ("rated", "opened", "tightness", "owed"),
    [
        (True, True, Tightness.PASSED, False),
        (True, True, Tightness.NOT_TESTED, True),
        (True, True, Tightness.FAILED, True),
        (True, False, Tightness.FAILED, True),
        (True, False, Tightness.NOT_TESTED, False),
        (True, None, Tightness.NOT_TESTED, False),
        (False, True, Tightness.NOT_TESTED, False),
    ],
)
def test_a_rated_piece_owes_a_test_where_it_was_opened_or_failed(
    *, rated: bool, opened: bool | None, tightness: Tightness, owed: bool
) -> None:
    assert leaves_a_test_owed(rated=rated, case_opened=opened, tightness=tightness) is owed
