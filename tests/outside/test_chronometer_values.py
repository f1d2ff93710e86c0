"""The criteria of ISO 3159:2009 against the worked runs of fixtures/published."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service_center.measurements.rules.chronometer import DAYS, TABLE, Size, all_within, criteria_of
from tests.outside.published import rows

NAMES = ("M", "V", "Vmax", "D", "P", "C", "R")
RUNS = {row["run"]: row for row in rows("chronometer_runs")}


def series(run):
    return {day: Decimal(RUNS[run][f"g{day}"]) for day in DAYS}


@pytest.mark.parametrize("run", RUNS)
def test_each_worked_run_gives_its_seven_criteria(run):
    for one in criteria_of(series(run), Size.OVER_20):
        given_digits = Decimal(RUNS[run][one.name])
        assert one.value.quantize(given_digits) == given_digits


@pytest.mark.parametrize("size", Size)
@pytest.mark.parametrize("run", RUNS)
def test_each_worked_run_fails_where_it_should_and_nowhere_else(run, size):
    criteria = criteria_of(series(run), size)
    failed = [one.name for one in criteria if not one.within]
    assert failed == [name for name in RUNS[run][f"fails_{size.value}"].split() if name]
    assert all_within(criteria) is (not failed)


def test_the_limits_are_those_published_for_both_sizes():
    for row in rows("chronometer_limits"):
        for size in Size:
            one = {one.name: one for one in criteria_of(series("A"), size)}[row["criterion"]]
            low = row[f"{size.value}_low"]
            assert (one.low, one.high) == (Decimal(low) if low else None, Decimal(row[f"{size.value}_high"]))
    assert tuple(name for name, *_rest in TABLE) == NAMES


def test_the_sign_of_vertical_minus_horizontal_decides():
    """Run C fails D at -6.5; the same piece with 6H and CH exchanged has +6.5 and passes."""
    run = series("C")
    turned = run | {1: run[9], 2: run[10], 9: run[1], 10: run[2]}
    by_name = {one.name: one for one in criteria_of(turned, Size.OVER_20)}
    assert (by_name["D"].value, by_name["D"].within) == (Decimal("6.5"), True)


@pytest.mark.parametrize("day", [12, 14])
def test_days_12_and_14_enter_no_criterion(day):
    changed = series("A") | {day: Decimal(99)}
    assert criteria_of(changed, Size.OVER_20) == criteria_of(series("A"), Size.OVER_20)


@pytest.mark.parametrize(
    ("days", "answered"),
    [
        (range(1, 11), ["M", "V", "Vmax", "D", "P"]),
        ([1, 2, 15], ["R"]),
        ([11, 13], ["C"]),
        ([1, 2, 9, 10], ["D"]),
        ([3], []),
    ],
)
def test_a_shorter_series_answers_what_it_can(days, answered):
    criteria = criteria_of({day: series("A")[day] for day in days}, Size.OVER_20)
    assert [one.name for one in criteria if one.value is not None] == answered
    assert all_within(criteria) is None
    assert all(one.missing for one in criteria if one.value is None)


def test_one_failure_settles_a_short_series():
    assert all_within(criteria_of({11: Decimal(-9), 13: Decimal(11)}, Size.OVER_20)) is False


rate = st.decimals(-50, 50, places=1)


@given(st.lists(rate, min_size=15, max_size=15))
def test_a_second_reading_of_the_formulas_in_whole_tenths_agrees(rates):
    """The same formulas in integers (tenths of a second, common denominators), which round nothing."""
    g = [None, *(int(one * 10) for one in rates)]
    pairs = [abs(g[day] - g[day + 1]) for day in (1, 3, 5, 7, 9)]
    total = sum(g[1:11])
    exact = {
        "M": -400 <= total <= 600,
        "V": sum(pairs) <= 100,
        "Vmax": max(pairs) <= 50,
        "D": -120 <= (g[1] + g[2]) - (g[9] + g[10]) <= 160,
        "P": max(abs(10 * one - total) for one in g[1:11]) <= 1000,
        "C": abs(g[13] - g[11]) <= 180,
        "R": abs(2 * g[15] - g[1] - g[2]) <= 100,
    }
    criteria = criteria_of(dict(zip(DAYS, rates, strict=True)), Size.OVER_20)
    assert {one.name: one.within for one in criteria} == exact
