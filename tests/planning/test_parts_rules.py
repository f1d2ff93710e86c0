"""What the coming months need of a part, held against simulation and a general library."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service_center.planning.rules.parts import PRIOR_ORDERS, Need, Rate, first_short_week, needs, order_up_to

MONDAY = date(2026, 3, 2)


def need(rate: Rate, orders: float) -> Need:
    """What so many expected orders of one kind will use."""
    return needs([[rate]], [[[orders]]])[0][0]


def test_the_range_is_that_of_orders_drawn_at_random_around_an_unknown_rate() -> None:
    """A simulation of the mixture: a gamma rate, then Poisson needs (NumPy), against the closed form."""
    random = np.random.default_rng(7)
    rate = Rate(used=18, orders=60, usual=0.3)
    shape = 18 + PRIOR_ORDERS * 0.3
    used = random.poisson(random.gamma(shape, 1 / (60 + PRIOR_ORDERS), 400_000) * 40.0)
    low, high = np.quantile(used, [0.1, 0.9])
    found = need(rate, 40.0)
    assert (found.low, found.high) == (low, high)
    assert found.expected == pytest.approx(used.mean(), rel=0.01)


def test_kinds_of_order_together_need_what_a_simulation_of_each_adds_up_to() -> None:
    """Three gamma rates, each with its own Poisson needs, added up (NumPy), against the matched closed form."""
    random = np.random.default_rng(11)
    rates = [
        Rate(used=40, orders=45, usual=1.0),
        Rate(used=6, orders=20, usual=0.7),
        Rate(used=3, orders=90, usual=0.15),
    ]
    expected = [30.0, 12.0, 80.0]
    used = sum(
        random.poisson(random.gamma(rate.shape, 1 / rate.weight, 400_000) * orders)
        for rate, orders in zip(rates, expected, strict=True)
    )
    found = needs([rates], [[[orders] for orders in expected]])[0][0]
    assert found.expected == pytest.approx(used.mean(), rel=0.01)
    for share, end in ((0.1, found.low), (0.9, found.high)):
        assert abs(np.quantile(used, share) - end) <= 1


def test_a_kind_of_which_nothing_is_expected_changes_nothing() -> None:
    rate = Rate(used=18, orders=60, usual=0.3)
    together = needs([[rate, Rate(9, 10, 1.0)]], [[[40.0], [0.0]]])[0][0]
    assert together == need(rate, 40.0)


def test_what_is_on_order_is_not_ordered_twice() -> None:
    alone, with_delivery = (
        order_up_to(100, MONDAY, as_of=MONDAY, there=there, pack=10, delivery_days=7) for there in (20, 70)
    )
    assert (alone.quantity, with_delivery.quantity) == (80, 30)


def test_a_house_without_orders_starts_from_common_practice() -> None:
    assert Rate(used=0, orders=0, usual=1.0).mean == 1.0


def test_many_orders_of_ones_own_outweigh_common_practice() -> None:
    assert Rate(used=100, orders=1_000, usual=1.0).mean == pytest.approx(0.1, abs=0.01)


@given(st.integers(0, 200), st.integers(0, 200), st.floats(0, 1), st.floats(0, 300), st.floats(0, 300))
def test_more_orders_never_need_fewer_parts(used: int, orders: int, usual: float, some: float, more: float) -> None:
    rate = Rate(used, orders, usual)
    less, most = sorted((some, some + more))
    assert need(rate, less).low <= need(rate, most).low
    assert need(rate, less).high <= need(rate, most).high


def order(on_hand: int, *, pack: int = 10, delivery_days: int = 21, weeks: int = 26, a_week: float = 4.0):  # type: ignore[no-untyped-def]
    rate, as_of, expected = Rate(used=400, orders=400, usual=1.0), MONDAY + timedelta(days=2), [a_week] * weeks
    week = first_short_week([rate], [expected], [on_hand] * weeks)
    runs_out = None if week is None else max(as_of, MONDAY + timedelta(weeks=week))
    most = need(rate, sum(expected)).high
    return order_up_to(most, runs_out, as_of=as_of, there=on_hand, pack=pack, delivery_days=delivery_days)


def test_a_full_shelf_needs_nothing() -> None:
    assert order(500).quantity == 0


def test_what_is_short_is_ordered_in_whole_packs_before_it_runs_out() -> None:
    found = order(50)
    assert found.quantity % 10 == 0
    assert 50 + found.quantity >= need(Rate(400, 400, 1.0), 4.0 * 26).high
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
    assert need(Rate(1, 1, 1.0), 0).high == 0
    with pytest.raises(ValueError, match="0 or more"):
        need(Rate(1, 1, 1.0), -1)
