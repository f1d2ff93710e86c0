"""What is done at the bench, and how long it takes."""

import pytest

from service_center.book.rules import Complexity, EntryKind
from service_center.workshop.orders.rules.kinds import kind_of
from service_center.workshop.orders.rules.operations import HOUSE_TIMES, Operation, Time, times_for


@pytest.mark.parametrize(
    ("complexity", "hours"), [("simple", 4), ("automatic", 5.5), ("chronograph", 9), ("complicated", 18)]
)
def test_an_overhauls_operations_add_up_to_the_usual_bench_hours(complexity: str, hours: float) -> None:
    """Common practice, no source."""
    minutes = sum(time.minutes for time in HOUSE_TIMES[EntryKind.OVERHAUL][Complexity(complexity)].values())
    assert minutes == hours * 60


def test_the_final_control_runs_for_days_and_takes_little_of_the_bench() -> None:
    control = HOUSE_TIMES[EntryKind.OVERHAUL][Complexity.AUTOMATIC][Operation.FINAL_CONTROL]
    assert (control.minutes, control.wait_hours) == (20, 72)


def test_a_piece_without_a_rating_is_not_tested_for_tightness() -> None:
    assert Operation.TIGHTNESS_TESTS not in times_for(EntryKind.OVERHAUL, Complexity.SIMPLE, {}, rated=False)


def test_the_houses_own_time_takes_the_place_of_common_practice_and_nought_takes_the_operation_out() -> None:
    own = {
        (EntryKind.OVERHAUL, Complexity.SIMPLE, Operation.CLEANING): Time(35),
        (EntryKind.OVERHAUL, Complexity.SIMPLE, Operation.REFINISHING): Time(0),
    }
    found = times_for(EntryKind.OVERHAUL, Complexity.SIMPLE, own, rated=True)
    assert found[Operation.CLEANING] == Time(35)
    assert Operation.REFINISHING not in found


def test_a_calibre_that_nobody_knows_is_planned_as_automatic() -> None:
    assert times_for(EntryKind.REPAIR, None, {}, rated=True) == times_for(
        EntryKind.REPAIR, Complexity.AUTOMATIC, {}, rated=True
    )


def test_the_greater_work_includes_the_lesser_and_a_piece_without_a_word_is_looked_at() -> None:
    assert kind_of([EntryKind.STRAP, EntryKind.OVERHAUL, EntryKind.TIGHTNESS_CHECK]) is EntryKind.OVERHAUL
    assert kind_of([]) is EntryKind.REPAIR


def test_no_time_is_less_than_nothing() -> None:
    with pytest.raises(ValueError, match="0 or more"):
        Time(-5)
