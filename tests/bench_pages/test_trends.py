"""Across visits: amplitude, rate and leak flow with time, and the day on which a limit is reached."""

from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.urls import reverse
from scipy.stats import theilslopes

from service_center.bench.queries import leak_over_visits
from service_center.measurements.actions import begin_run
from service_center.measurements.models import TightnessResult
from service_center.measurements.queries import runs_of

pytestmark = pytest.mark.django_db
DAYS = [date(2022, 3, 1), date(2023, 3, 1), date(2024, 3, 1), date(2025, 3, 1), date(2026, 3, 1)]


def dry_test(piece, on, flow, *, bar="2", passed=None):
    """A dry test under overpressure with its leak flow; the look before it passed."""
    run = begin_run(piece, form_key=uuid4(), on=on, by=None)
    look = {"test": "look", "made_on": on, "passed": True}
    vacuum = {"test": "dry_vacuum", "made_on": on, "passed": True, "bar": Decimal("-0.7")}
    dry = {
        "test": "dry_pressure",
        "made_on": on,
        "passed": False if passed is None else passed,  # a failed test ends the run, so that the next may begin
        "bar": Decimal(bar),
        "micrograms_a_minute": None if flow is None else Decimal(str(flow)),
    }
    for one in (look, vacuum, dry):
        TightnessResult.objects.create(run=run, **one)


def page_of(signed_in, piece):
    return signed_in("watchmaker").get(reverse("bench:measurements", args=[piece.pk])).content.decode()


def test_a_rising_leak_says_when_it_reaches_50_micrograms_a_minute(signed_in, piece):
    days = [date(2022, 3, 1) + timedelta(n * 365) for n in range(5)]
    flows = [10, 15, 20, 25, 30]
    for on, flow in zip(days, flows, strict=True):
        dry_test(piece, on, flow)
    page = page_of(signed_in, piece)
    assert "Leak flow in dry tests at 2 bar" in page
    assert "limit 50.0 µg/min" in page
    # 30 on 28 February 2026, and 5 more every 365 days: 20 more take 1,460 days.
    assert "At that pace it reaches the limit on 27 February 2030." in page
    over, bar = leak_over_visits(runs_of(piece))
    slope, _level, low, high = theilslopes(flows, [(day - days[0]).days / 365.25 for day in days], 0.95)
    assert bar == 2
    assert (over.trend.a_year, over.trend.low, over.trend.high) == pytest.approx((slope, low, high))


def test_a_leak_that_goes_up_and_down_projects_no_day(signed_in, piece):
    for on, flow in zip(DAYS, [20, 31, 18, 29, 22], strict=True):
        dry_test(piece, on, flow)
    page = page_of(signed_in, piece)
    assert "That cannot be told from no change, so no day is projected." in page
    assert "reaches the limit on" not in page


def test_a_falling_leak_heads_for_no_limit_even_from_beyond_it(signed_in, piece):
    for on, flow in zip(DAYS, [80, 72, 66, 59, 54], strict=True):
        dry_test(piece, on, flow)
    assert "reaches the limit on" not in page_of(signed_in, piece)


def test_tests_at_another_pressure_or_without_a_flow_are_not_told_together(piece):
    dry_test(piece, DAYS[0], 90, bar="4")
    dry_test(piece, DAYS[1], None)
    for on, flow in zip(DAYS[2:], [10, 12, 14], strict=True):
        dry_test(piece, on, flow)
    over, _bar = leak_over_visits(runs_of(piece))
    assert (over.days, over.values) == (DAYS[2:], [10, 12, 14])


def test_of_two_tests_on_a_day_the_later_counts(piece):
    dry_test(piece, DAYS[0], 70)
    dry_test(piece, DAYS[0], 12)
    assert leak_over_visits(runs_of(piece))[0].values == [12]


def test_a_piece_whose_leak_was_never_measured_has_no_picture_of_it(signed_in, piece):
    assert leak_over_visits(runs_of(piece)) is None
    assert "Leak flow" not in page_of(signed_in, piece)
