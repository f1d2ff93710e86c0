"""Weeks, and the hours that a house has in them."""

from datetime import date

import pytest

from service_center.planning.rules.bench_hours import Benches, capacity_by_week, worked_off
from service_center.planning.rules.weeks import monday_of, week_at, week_name


@pytest.mark.parametrize(
    ("day", "week"),
    [("2024-12-30", "2025-W01"), ("2027-01-03", "2026-W53"), ("2027-01-04", "2027-W01"), ("2016-01-03", "2015-W53")],
)
def test_weeks_are_named_as_iso_8601_names_them(day: str, week: str) -> None:
    """design/facts.md, ISO weeks."""
    assert week_name(monday_of(date.fromisoformat(day))) == week


def test_weeks_before_the_horizon_count_down() -> None:
    first = date(2026, 11, 23)
    assert [week_at(date(2026, 11, day), first) for day in (15, 16, 22, 23, 29, 30)] == [-2, -1, -1, 0, 0, 1]


def test_benches_count_from_their_first_day() -> None:
    benches = Benches(40, date(2026, 12, 2))  # a Wednesday: three of five working days
    assert capacity_by_week(benches, date(2026, 11, 23), 3) == [0, 24, 40]
    assert capacity_by_week(Benches(40), date(2026, 11, 23), 2) == [40, 40]
    assert capacity_by_week(None, date(2026, 11, 23), 2) == [0, 0]


def test_what_is_in_the_house_is_worked_off_first() -> None:
    assert worked_off(50, [20, 0, 20, 20]) == [20, 0, 20, 10]
    assert worked_off(50, [20, 20]) == [20, 30]
