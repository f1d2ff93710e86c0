"""Standard minutes learnt from finished orders, held against SciPy."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import median_abs_deviation

from service_center.workshop.orders.rules.learning import ENOUGH, learn

MINUTES = st.lists(st.floats(min_value=0, max_value=2_000), min_size=ENOUGH, max_size=40)


@given(MINUTES)
def test_middle_and_spread_are_those_of_a_general_library(minutes: list[float]) -> None:
    """SciPy 1.17, scipy.stats.median_abs_deviation with scale="normal"."""
    found = learn(minutes)
    assert found is not None
    assert found.spread == pytest.approx(float(median_abs_deviation(minutes, scale="normal")))
    assert found.rests_on == len(minutes)


def test_one_order_that_lay_forgotten_on_the_bench_changes_little() -> None:
    usual = [100, 105, 110, 115, 120]
    assert learn([*usual, 900]).minutes == 112.5  # type: ignore[union-attr]


def test_four_orders_say_nothing_yet() -> None:
    assert learn([100, 100, 100, 100]) is None


def test_a_negative_time_is_refused() -> None:
    with pytest.raises(ValueError, match="0 minutes or more"):
        learn([10, 10, 10, 10, -1])
