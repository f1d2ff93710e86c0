"""What the coming months need of a part, held against simulation and a general library."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service_center.planning.rules.parts import PRIOR_ORDERS, Rate, first_short_week, order_up_to

MONDAY = date(2026, 3, 2)


def test_the_range_is_that_of_orders_drawn_at_random_around_an_unknown_rate() -> None:
    """A simulation of the mixture: a gamma rate, then Poisson needs (NumPy), against the closed form."""
    random = np.random.default_rng(7)
    rate = Rate(used=18, orders=60, usual=0.3)
    shape = 18 + PRIOR_ORDERS * 0.3
    needs = random.poisson(random.gamma(shape, 1 / (60 + PRIOR_ORDERS), 400_000) * 40.0)
    low, high = np.quantile(needs, [0.1, 0.9])
    found = rate.need(40.0)
    assert (found.low, found.high) == (low, high)
    assert found.expected == pytest.approx(needs.mean(), rel=0.01)


def test_a_house_without_orders_starts_from_common_practice() -> None:
    assert Rate(used=0, orders=0, usual=1.0).mean == 1.0


def test_many_orders_of_ones_own_outweigh_common_practice() -> None:
    assert Rate(used=100, orders=1_000, usual=1.0).mean == pytest.approx(0.1, abs=0.01)


@given(st.integers(0, 200), st.integers(0, 200), st.floats(0, 1), st.floats(0, 300), st.floats(0, 300))
def test_more_orders_never_need_fewer_parts(used: int, orders: int, usual: float, some: float, more: float) -> None:
    rate = Rate(used, orders, usual)
    less, most = sorted((some, some + more))
    assert rate.need(less).low <= rate.need(most).low
    assert rate.need(less).high <= rate.need(most).high


def order(on_hand: int, *, pack: int = 10, delivery_days: int = 21, weeks: int = 26, a_week: float = 4.0):  # type: ignore[no-untyped-def]
    rate, as_of, expected = Rate(used=400, orders=400, usual=1.0), MONDAY + timedelta(days=2), [a_week] * weeks
    week = first_short_week(rate, expected, on_hand)
    runs_out = None if week is None else max(as_of, MONDAY + timedelta(weeks=week))
    most = rate.need(sum(expected)).high
    return order_up_to(most, runs_out, as_of=as_of, on_hand=on_hand, pack=pack, delivery_days=delivery_days)


def test_a_full_shelf_needs_nothing() -> None:
    assert order(500).quantity == 0


def test_what_is_short_is_ordered_in_whole_packs_before_it_runs_out() -> None:
    found = order(50)
    assert found.quantity % 10 == 0
    assert 50 + found.quantity >= Rate(400, 400, 1.0).need(4.0 * 26).high
    assert found.runs_out is not None
    assert found.by == found.runs_out - timedelta(days=21)


def test_what_should_have_been_ordered_last_month_is_ordered_today() -> None:
    assert order(0).by == MONDAY + timedelta(days=2)


@given(st.integers(0, 150), st.integers(0, 150))
def test_a_fuller_shelf_is_never_ordered_for_earlier(one: int, other: int) -> None:
    little, much = sorted((one, other))
    first, second = order(little), order(much)
    assert second.quantity <= first.quantity
    if first.by and second.by:
        assert first.by <= second.by


def test_no_orders_need_nothing_and_a_negative_forecast_is_refused() -> None:
    assert Rate(1, 1, 1.0).need(0).high == 0
    with pytest.raises(ValueError, match="0 or more"):
        Rate(1, 1, 1.0).need(-1)
