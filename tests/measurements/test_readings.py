"""Positions and readings: what is taken, what is refused, what is questioned."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service_center.measurements.rules import (
    POSITIONS,
    VERTICAL,
    Reading,
    Wind,
    crown_angle,
    crown_direction,
    impossible,
    position_of,
    unlikely,
)

# ISO 3158:1976, the table of design/facts.md, 1: crown angle clockwise from the top, by where the crown sits.
CROWN_ANGLES = {
    3: (0, 270, 180, 90),
    4: (30, 300, 210, 120),
    9: (180, 90, 0, 270),
    12: (270, 180, 90, 0),
}


def reading(position="CH", wind=Wind.FULL, rate="4.0", amplitude="285", beat_error="0.2") -> Reading:
    values = [None if value is None else Decimal(value) for value in (rate, amplitude, beat_error)]
    return Reading(position, wind, *values)


@pytest.mark.parametrize("crown_at", CROWN_ANGLES)
def test_the_hour_that_points_up_says_where_the_crown_points(crown_at):
    assert tuple(crown_angle(position, crown_at) for position in VERTICAL) == CROWN_ANGLES[crown_at]


def test_a_crown_at_three_and_one_at_nine_point_opposite_ways():
    assert [crown_direction(position, 3) for position in POSITIONS] == [
        "dial up", "dial down", "crown up", "crown left", "crown down", "crown right",
    ]  # fmt: skip
    assert crown_direction("6H", 9) == "crown right"
    assert crown_direction("9H", 9) == "crown up"
    assert crown_direction("3H", 4) == "crown between up and right"


def test_a_flat_piece_has_no_crown_direction():
    with pytest.raises(ValueError, match="CH is not a vertical position"):
        crown_angle("CH", 3)


@pytest.mark.parametrize(
    ("written", "meant"), [("FH", "CB"), (" fh ", "CB"), ("cb", "CB"), ("12h", "12H"), ("1H", None), ("", None)]
)
def test_both_symbols_for_dial_down_are_one_position(written, meant):
    assert position_of(written) == meant


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("rate", "1000"), ("rate", "-1000"), ("amplitude", "360"), ("amplitude", "0"),
        ("beat_error", "0"), ("beat_error", "99.99"),
    ],
)  # fmt: skip
def test_the_edge_of_the_possible_is_possible(field, value):
    assert impossible([reading(**{field: value})]) == []


@pytest.mark.parametrize(
    ("field", "value", "reason"),
    [
        ("rate", "1000.1", "beyond ±1,000"),
        ("rate", "-1000.1", "beyond ±1,000"),
        ("amplitude", "360.1", "above 360"),
        ("amplitude", "-1", "below 0"),
        ("beat_error", "-0.1", "below 0"),
        ("beat_error", "100", "100 ms or more"),
        ("rate", "NaN", "not a number"),
        ("amplitude", "Infinity", "not a number"),
    ],
)
def test_the_impossible_is_refused_with_field_and_reason(field, value, reason):
    (problem,) = impossible([reading("CB", **{field: value})])
    assert (problem.position, problem.field) == ("CB", field)
    assert reason in problem.reason


def test_a_position_stands_once_in_a_wind_state():
    twice = [reading("CH"), reading("3H"), reading("CH", rate="5.0")]
    (problem,) = impossible(twice)
    assert (problem.row, problem.field) == (2, "position")
    assert problem.reason == "CH stands twice at full wind"
    assert impossible([reading("CH"), reading("CH", Wind.AFTER_24H)]) == []


def test_a_reading_of_nothing_is_refused():
    (problem,) = impossible([reading(rate=None, amplitude=None, beat_error=None)])
    assert "needs a rate, an amplitude or a beat error" in problem.reason


@pytest.mark.parametrize(
    ("field", "value"),
    [("rate", "61"), ("rate", "-61"), ("amplitude", "149"), ("amplitude", "331"), ("beat_error", "3.1")],
)
def test_the_unlikely_is_possible_but_asks_for_a_second_look(field, value):
    odd = [reading(**{field: value})]
    assert impossible(odd) == []
    assert [problem.field for problem in unlikely(odd)] == [field]


def test_an_ordinary_reading_is_not_questioned():
    assert unlikely([reading(), reading("9H", rate="-3", amplitude="252", beat_error="0.4")]) == []


def test_an_amplitude_that_grew_in_a_day_asks_for_a_second_look():
    grown = [reading(amplitude="250"), reading(wind=Wind.AFTER_24H, amplitude="261")]
    assert [(problem.row, problem.field) for problem in unlikely(grown)] == [(1, "amplitude")]
    assert unlikely([reading(amplitude="250"), reading(wind=Wind.AFTER_24H, amplitude="260")]) == []


any_value = st.none() | st.decimals() | st.decimals(-2000, 2000, places=1)


@given(
    st.lists(
        st.builds(Reading, st.sampled_from([*POSITIONS, "X"]), st.sampled_from(Wind), any_value, any_value, any_value)
    )
)
def test_no_sheet_passes_with_an_impossible_reading(readings):
    refused = {problem.row for problem in impossible(readings)}
    for row, one in enumerate(readings):
        values = [value for value in (one.rate, one.amplitude, one.beat_error) if value is not None]
        possible = (
            values
            and all(value.is_finite() for value in values)
            and one.position in POSITIONS
            and (one.rate is None or abs(one.rate) <= 1000)
            and (one.amplitude is None or 0 <= one.amplitude <= 360)
            and (one.beat_error is None or 0 <= one.beat_error < 100)
            and (one.position, one.wind) not in [(other.position, other.wind) for other in readings[:row]]
        )
        assert possible or row in refused
