"""By what a calibre is judged, a wrong lift angle, and the whole or half beat error."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service_center.measurements.actions import (
    ImpossibleReadingsError,
    NoLiftAngleError,
    SheetCorrectedBeforeError,
    correct_lift_angle,
    record_sheet,
    set_judging,
)
from service_center.measurements.queries import judging_of, readings_as_read, readings_of
from service_center.measurements.rules import POSITIONS, Reading, Wind, impossible
from service_center.measurements.rules.chronometer import answerable_from_a_sheet
from service_center.measurements.rules.limits import HOUSE_JUDGING, HOUSE_LIMITS, Judging, Range, not_read, verdicts_on
from tests.factories import CalibreFactory, PieceFactory
from tests.measurements.test_sheet import SIX, sheet

DAY = date(2026, 3, 2)


def verdict(readings, figure, judging=HOUSE_JUDGING):
    return next(one for one in verdicts_on(readings, judging) if one.figure == figure)


def test_positions_in_which_a_calibre_is_not_judged_decide_nothing():
    """The worked sheet of design/facts.md, 3: 3 positions give +0.8333 and 7.0, 6 give +1.1667 and 8.0."""
    three = Judging(HOUSE_LIMITS, ("CH", "6H", "9H"))
    assert round(verdict(sheet(SIX), "mean_rate", three).value, 4) == Decimal("0.8333")
    assert verdict(sheet(SIX), "delta", three).value == 7
    assert round(verdict(sheet(SIX), "mean_rate").value, 4) == Decimal("1.1667")
    assert {one.position for one in verdict(sheet(SIX), "highest_beat_error", three).decided_by} <= {"CH", "6H", "9H"}


def test_positions_that_lack_are_named():
    assert not_read(sheet(["CH", "9H"]), HOUSE_JUDGING) == ["CB", "3H", "6H", "12H"]


@pytest.mark.django_db
def test_a_calibres_own_limits_hold_for_it_alone():
    own, other = CalibreFactory(), CalibreFactory()
    limits = {**HOUSE_LIMITS, "highest_beat_error": Range(high=Decimal("0.3"))}
    set_judging(own, Judging(limits, ("CH", "6H", "9H"), crown_at=9), by=None)
    assert judging_of(own).limits["highest_beat_error"] == Range(None, Decimal("0.30"))
    assert (judging_of(own).positions, judging_of(own).crown_at) == (("CH", "6H", "9H"), 9)
    assert judging_of(other) == HOUSE_JUDGING
    set_judging(own, HOUSE_JUDGING, by=None)
    assert judging_of(own) == HOUSE_JUDGING


@pytest.mark.django_db
def test_a_wrong_lift_angle_is_corrected_on_a_new_sheet_and_the_old_one_stays():
    """52° for 53° turns 270.0° into 275.19° (design/facts.md, 3); kept in whole degrees."""
    readings = [Reading("CH", Wind.FULL, Decimal("4.0"), Decimal(270), Decimal("0.20"))]
    wrong = record_sheet(PieceFactory(), readings, taken_on=DAY, by=None, lift_angle_deg=Decimal(52))
    anew = correct_lift_angle(wrong, right=Decimal(53), on=DAY, by=None)
    assert readings_of(anew) == [Reading("CH", Wind.FULL, Decimal("4.0"), Decimal(275), Decimal("0.20"))]
    assert (anew.voids, anew.lift_angle_deg) == (wrong, 53)
    assert readings_of(wrong)[0].amplitude == 270
    with pytest.raises(SheetCorrectedBeforeError):
        correct_lift_angle(wrong, right=Decimal(54), on=DAY, by=None)


@pytest.mark.django_db
def test_a_lift_angle_that_would_make_a_reading_impossible_is_refused():
    readings = [Reading("CH", Wind.FULL, None, Decimal(330), None)]
    wrong = record_sheet(PieceFactory(), readings, taken_on=DAY, by=None, lift_angle_deg=Decimal(44))
    with pytest.raises(ImpossibleReadingsError, match="above 360"):
        correct_lift_angle(wrong, right=Decimal(58), on=DAY, by=None)
    unknown = record_sheet(PieceFactory(), readings, taken_on=DAY, by=None)
    with pytest.raises(NoLiftAngleError):
        correct_lift_angle(unknown, right=Decimal(52), on=DAY, by=None)


@pytest.mark.django_db
def test_a_whole_beat_error_is_kept_as_read_and_judged_as_half():
    readings = [Reading("CH", Wind.FULL, None, None, Decimal("1.80"))]
    kept = record_sheet(PieceFactory(), readings, taken_on=DAY, by=None, whole_beat_error=True)
    assert readings_as_read(kept)[0].beat_error == Decimal("1.80")
    assert readings_of(kept)[0].beat_error == Decimal("0.9")


def test_a_timing_sheet_answers_none_of_the_criteria_of_iso_3159():
    """Every criterion is made of rates over 24 hours (design/facts.md, 2); a machine's is of a minute."""
    by_name = {one.name: one for one in answerable_from_a_sheet()}
    assert list(by_name) == ["M", "V", "Vmax", "D", "P", "C", "R"]
    assert (by_name["D"].days, by_name["D"].positions) == ((1, 2, 9, 10), ("6H", "CH"))
    assert by_name["C"].degrees == (8, 38)


numbers = st.none() | st.decimals(allow_nan=True, allow_infinity=True) | st.decimals(-2000, 2000, places=2)
readings = st.builds(Reading, st.sampled_from([*POSITIONS, "XX", ""]), st.sampled_from(Wind), numbers, numbers, numbers)


@given(st.lists(readings, max_size=14))
def test_no_sheet_with_an_impossible_reading_is_passed_and_none_crashes(sheet):
    if impossible(sheet):
        return
    for one in sheet:
        assert one.position in POSITIONS
        assert one.rate is None or abs(one.rate) <= 1000
        assert one.amplitude is None or 0 <= one.amplitude <= 360
    assert len({(one.position, one.wind) for one in sheet}) == len(sheet)
    assert [one.figure for one in verdicts_on(sheet)] == [one.figure for one in verdicts_on([])]
