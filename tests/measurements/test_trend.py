"""A trend across visits, and the day on which it meets a limit. Against SciPy's own worked interval and by hand."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service_center.measurements.rules.trend import trend_of

YEARS = [date(2020, 1, 1), date(2021, 1, 1), date(2022, 1, 1), date(2023, 1, 1)]


def test_two_visits_are_no_trend() -> None:
    assert trend_of(YEARS[:2], [280, 270]) is None


def test_a_straight_fall_is_found_and_reaches_the_limit_when_arithmetic_says_so() -> None:
    days = [date(2020, 1, 1), date(2020, 4, 10), date(2020, 7, 19)]  # 100 days apart
    trend = trend_of(days, [280, 270, 260])
    assert trend is not None
    assert trend.falls
    assert trend.a_year == pytest.approx(-36.525)
    assert trend.falls_to(220) == date(2021, 8, 23)  # 400 days after the last visit


def test_one_wild_reading_does_not_carry_the_line_away() -> None:
    days = [date(2015 + n, 1, 1) for n in range(9)]
    steady = [290 - 5 * n for n in range(9)]
    trend, wild = trend_of(days, steady), trend_of(days, [*steady[:4], 150, *steady[5:]])
    assert trend is not None
    assert wild is not None
    assert wild.a_year == pytest.approx(trend.a_year, rel=0.1)


def test_a_slope_that_cannot_be_told_from_none_reaches_nothing() -> None:
    trend = trend_of(YEARS, [270, 280, 268, 274])
    assert trend is not None
    assert not trend.falls
    assert trend.falls_to(220) is None


def test_a_rising_line_falls_to_nothing_and_rises_to_a_limit_above() -> None:
    trend = trend_of(YEARS, [1, 2, 3, 4])
    assert trend is not None
    assert trend.falls_to(0) is None
    assert trend.rises_to(5) == date(2024, 1, 2)  # 2020 and 2024 are leap years: a year of the line is 365.25 days


def test_a_line_already_below_the_limit_meets_it_on_the_day_of_the_last_visit_never_before() -> None:
    trend = trend_of(YEARS[:3], [240, 225, 210])
    assert trend is not None
    assert trend.falls_to(230) == YEARS[2]


def test_visits_out_of_order_or_twice_on_a_day_are_refused() -> None:
    with pytest.raises(ValueError, match="its own day"):
        trend_of([YEARS[1], YEARS[0], YEARS[2]], [1, 2, 3])
    with pytest.raises(ValueError, match="its own day"):
        trend_of([YEARS[0], YEARS[0], YEARS[2]], [1, 2, 3])


@given(st.lists(st.integers(150, 330), min_size=3, max_size=9))
def test_the_slope_is_the_median_of_all_slopes_between_two_visits(values) -> None:
    """Theil (1950), Sen (1968): worked out here from the definition."""
    days = [date(2010 + 2 * n, 3, 1) for n in range(len(values))]
    years = [(day - days[0]).days / 365.25 for day in days]
    slopes = [
        (values[b] - values[a]) / (years[b] - years[a]) for a in range(len(values)) for b in range(a + 1, len(values))
    ]
    trend = trend_of(days, values)
    assert trend is not None
    assert trend.a_year == pytest.approx(float(np.median(slopes)))
    assert trend.low <= trend.a_year <= trend.high


def test_the_interval_of_the_line_is_a_point_at_the_middle_visit_and_widens_away_from_it() -> None:
    days = [date(2020, 1, 1), date(2020, 4, 10), date(2020, 7, 19), date(2020, 10, 27)]
    trend = trend_of(days, [280, 271, 259, 252])
    assert trend is not None
    middle = date(2020, 5, 30)  # between the second and the third visit
    low, high = trend.between_on(middle)
    assert high - low < 0.1
    low, high = trend.between_on(date(2022, 1, 1))
    assert low < trend.on(date(2022, 1, 1)) < high


def test_the_day_of_the_limit_lies_between_the_days_of_the_slope_s_ends() -> None:
    days = [date(2020, 1, 1), date(2021, 1, 1), date(2022, 1, 1), date(2023, 1, 1)]
    trend = trend_of(days, [280, 271, 259, 252])
    assert trend is not None
    day, between = trend.falls_to(220), trend.falls_between(220)
    assert day is not None
    assert between is not None
    assert between[0] < day
    assert between[1] is not None
    assert day < between[1]


def test_a_line_that_is_level_meets_no_limit_between_any_days() -> None:
    trend = trend_of(YEARS, [270, 280, 268, 274])
    assert trend is not None
    assert trend.falls_between(220) is None
