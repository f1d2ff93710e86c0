"""What a piece lacks before it may leave."""

from typing import Any

from service_center.book.rules import EntryKind
from service_center.workshop.orders.rules.control import Lack, Measured, Missing, missing_for, only_limits
from service_center.workshop.orders.rules.operations import Operation

DONE: dict[str, Any] = {
    "read_after": True,
    "positions_before": [("CH", "full"), ("6H", "full")],
    "positions_after": [("CH", "full"), ("6H", "full"), ("9H", "full")],
    "out_of_limits": [],
    "tight": True,
}


def lacks(kind: str = "overhaul", *, unfinished: tuple[Operation, ...] = (), **changes: Any) -> list[Missing]:
    about: dict[str, Any] = {"mechanical": True, "rated": True, "case_opened": True, "declined": False}
    about |= {key: changes.pop(key) for key in list(changes) if key in about}
    return missing_for(EntryKind(kind), unfinished, Measured(**DONE | changes), **about)


def test_an_overhaul_with_every_operation_reading_and_test_lacks_nothing() -> None:
    assert lacks() == []


def test_what_was_read_at_intake_is_read_again_in_the_same_position() -> None:
    assert lacks(positions_after=[("CH", "full")]) == [Missing(Lack.POSITION, "6H full")]


def test_an_overhaul_without_readings_or_tests_may_not_leave() -> None:
    found = lacks(read_after=False, tight=None, unfinished=(Operation.CASING,))
    assert found == [Missing(Lack.OPERATION, "casing"), Missing(Lack.READINGS), Missing(Lack.TIGHTNESS)]


def test_a_piece_that_leaks_may_not_leave() -> None:
    assert lacks(tight=False) == [Missing(Lack.FAILED)]


def test_a_piece_without_a_rating_needs_no_tightness_test() -> None:
    assert lacks(rated=False, tight=None) == []


def test_a_strap_needs_no_readings_and_no_test() -> None:
    assert lacks("strap", case_opened=False, read_after=False, tight=None) == []


def test_a_tightness_check_is_a_tightness_test_though_no_case_was_opened() -> None:
    assert lacks("tightness_check", case_opened=False, read_after=False, tight=None) == [Missing(Lack.TIGHTNESS)]


def test_a_declined_piece_whose_case_was_opened_is_tested_before_it_goes_back() -> None:
    assert lacks(declined=True, unfinished=(Operation.ASSEMBLY,), read_after=False, tight=None) == [
        Missing(Lack.TIGHTNESS)
    ]
    assert lacks(declined=True, case_opened=False, unfinished=(Operation.ASSEMBLY,), tight=None) == []


def test_readings_out_of_their_limits_can_be_let_go_with_a_reason_and_nothing_else() -> None:
    assert only_limits(lacks(out_of_limits=["mean_rate"]))
    assert not only_limits(lacks(out_of_limits=["mean_rate"], tight=None))
    assert not only_limits([])
