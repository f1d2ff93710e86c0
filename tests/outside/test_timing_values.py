"""Positions and timing arithmetic against published values: ISO 3158:1976, and the forms named in fixtures/published."""

import math

import pytest

from service_center.measurements.rules import VERTICAL, crown_angle
from service_center.measurements.rules.arithmetic import (
    amplitude_from_lift,
    amplitude_with_lift,
    beat_error_ms,
    beat_ms,
    rate_from_beat,
    rest_point_offset_deg,
)
from tests.outside.published import rows


@pytest.mark.parametrize("row", rows("crown_angles"), ids=lambda row: f"crown at {row['crown_at']}")
def test_iso_3158_symbols_point_the_crown_where_the_standard_says(row):
    for position in VERTICAL:
        assert crown_angle(position, int(row["crown_at"])) == int(row[position])


@pytest.mark.parametrize("row", rows("beat_rates"), ids=lambda row: row["beats_per_hour"])
def test_beats_an_hour_are_half_oscillations(row):
    beats = int(row["beats_per_hour"])
    assert beat_ms(beats) == pytest.approx(float(row["beat_ms"]), abs=1e-6)
    assert beats / 7200 == float(row["hz"])
    assert 2 * beat_ms(beats) == pytest.approx(float(row["period_ms"]), abs=1e-6)


@pytest.mark.parametrize("row", rows("rates"), ids=lambda row: row["mean_beat_ms"])
def test_a_short_beat_gains_by_the_exact_form(row):
    rate = rate_from_beat(float(row["mean_beat_ms"]), int(row["beats_per_hour"]))
    assert rate == pytest.approx(float(row["rate"]), abs=5e-5)


@pytest.mark.parametrize("row", rows("amplitudes"), ids=lambda row: f"{row['beats_per_hour']}-{row['lift_ms']}")
def test_amplitude_follows_from_the_lift_angle_and_lies_between_the_other_two_forms(row):
    beats, lift, time = float(row["beats_per_hour"]), float(row["lift_angle"]), float(row["lift_ms"])
    amplitude = amplitude_from_lift(time, lift, beats)
    # The published lift times of the round amplitudes are rounded to a tenth of a microsecond.
    assert amplitude == pytest.approx(float(row["exact"]), abs=2e-3)
    assert 3_600_000 * lift / (math.pi * time * beats) == pytest.approx(float(row["small_angle"]), abs=2e-3)
    assert float(row["small_angle"]) < amplitude < float(row["one_sided"])


def test_a_wrong_lift_angle_is_put_right_in_proportion():
    """52 for 53 degrees turns 270.0 into 275.19 (design/facts.md, 3)."""
    assert amplitude_with_lift(270.0, set_to=52, right=53) == pytest.approx(275.19, abs=0.005)


@pytest.mark.parametrize(("tick", "tock", "half"), [(125.9, 124.1, 0.9), (125.4, 124.6, 0.4), (100.3, 99.7, 0.3)])
def test_beat_error_is_half_the_difference_of_the_beats(tick, tock, half):
    assert beat_error_ms(tick, tock) == pytest.approx(half)
    assert beat_error_ms(tock, tick) == beat_error_ms(tick, tock)


@pytest.mark.parametrize(
    ("error", "amplitude", "beats", "offset"),
    [(0.5, 270, 28_800, 1.6964), (1.0, 270, 18_000, 2.1206), (0.9, 250, 28_800, 2.8274)],
)
def test_the_rest_point_lies_off_the_middle_by_the_beat_error(error, amplitude, beats, offset):
    assert rest_point_offset_deg(error, amplitude, beats) == pytest.approx(offset, abs=2e-4)


@pytest.mark.parametrize(
    ("deed", "said"),
    [
        (lambda: rate_from_beat(0, 28_800), "the mean beat must be more than 0"),
        (lambda: rate_from_beat(125, 0), "beats an hour must be more than 0"),
        (lambda: amplitude_from_lift(125, 52, 28_800), "shorter than a beat"),
        (lambda: amplitude_from_lift(float("nan"), 52, 28_800), "the lift time must be more than 0"),
        (lambda: amplitude_with_lift(270, set_to=0, right=52), "the lift angle set must be more than 0"),
    ],
)
def test_what_cannot_be_is_named(deed, said):
    with pytest.raises(ValueError, match=said):
        deed()
