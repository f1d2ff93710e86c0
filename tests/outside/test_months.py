"""Months added to a day, against published rules and a published library.

Regulation (EEC, Euratom) No 1182/71, Article 3(2)(c): a period in months ends with the same date, or with the last
day of a month that lacks it. dateutil.relativedelta follows the same rule. The worked table is facts.md, section 5.
"""

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta

from service_center.intervals.rules import HOUSE_DEFAULTS, add_months

INTERVALS = sorted({months for rule in HOUSE_DEFAULTS for months in (rule.opens, rule.due, rule.closes)} | {24, 36, 48})


@pytest.mark.parametrize(
    ("start", "months", "end"),
    [
        ("2024-02-29", 12, "2025-02-28"),
        ("2024-02-29", 48, "2028-02-29"),
        ("2024-02-29", 72, "2030-02-28"),
        ("2024-02-29", 96, "2032-02-29"),
        ("2096-02-29", 48, "2100-02-28"),
        ("2023-02-28", 12, "2024-02-28"),
        ("2023-08-31", 6, "2024-02-29"),
        ("2024-08-31", 6, "2025-02-28"),
        ("2025-01-31", 1, "2025-02-28"),
        ("2025-01-31", 3, "2025-04-30"),
        ("2025-12-31", 18, "2027-06-30"),
        ("2024-01-15", 24, "2026-01-15"),
        ("2019-05-17", 72, "2025-05-17"),
        ("2019-05-17", 84, "2026-05-17"),
        ("2019-05-17", 96, "2027-05-17"),
        ("2024-02-29", 24, "2026-02-28"),
        ("2023-12-25", 24, "2025-12-25"),
        ("2024-05-01", 24, "2026-05-01"),
        ("2024-03-01", 24, "2026-03-01"),
    ],
)
def test_the_worked_table_of_the_regulation(start: str, months: int, end: str) -> None:
    assert add_months(date.fromisoformat(start), months).isoformat() == end


def test_months_are_added_in_one_step_four_single_years_would_drift() -> None:
    drifted = date(2024, 2, 29)
    for _year in range(4):
        drifted = add_months(drifted, 12)
    assert drifted == date(2028, 2, 28)
    assert add_months(date(2024, 2, 29), 48) == date(2028, 2, 29)


@pytest.mark.parametrize("cycle", [(1896, 1905), (1996, 2005), (2023, 2033), (2096, 2105)])
def test_every_day_of_leap_cycles_and_every_interval_agrees_with_dateutil(cycle: tuple[int, int]) -> None:
    first, last = date(cycle[0], 1, 1), date(cycle[1], 1, 1)
    for months in INTERVALS:
        step = relativedelta(months=months)
        wrong = [
            day
            for day in (first + timedelta(days=n) for n in range((last - first).days))
            if add_months(day, months) != day + step
        ]
        assert wrong == [], f"{months} months"


def test_every_number_of_months_to_fifty_years_agrees_with_dateutil_from_every_end_of_a_month() -> None:
    starts = [
        date(2024, 1, 1) + timedelta(days=n) for n in range(366) if (date(2024, 1, 1) + timedelta(days=n)).day > 27
    ]
    assert [
        (day, months)
        for months in range(601)
        for day in starts
        if add_months(day, months) != day + relativedelta(months=months)
    ] == []
