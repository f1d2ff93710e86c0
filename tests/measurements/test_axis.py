"""The lines of a picture: round, few, and everything drawn lies between them."""

from itertools import pairwise
from math import log10

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from service_center.measurements.rules.axis import round_levels

LOW, WIDTH, MOST = st.floats(-1_000_000, 1_000_000), st.floats(0, 1_000_000), st.integers(2, 12)


@example(524288.66796875, 0.0, 2, 0.0)
@given(LOW, WIDTH, MOST, st.sampled_from([0.0, 1.0]))
def test_the_levels_are_round_few_and_hold_the_values(low: float, width: float, most: int, finest: float) -> None:
    found = round_levels(low, low + width, most, finest=finest)
    assert found[0] <= low + 1e-6
    assert found[-1] >= low + width - 1e-6
    assert 2 <= len(found) <= most + 1
    step = found[1] - found[0]
    assert all(later - earlier == pytest.approx(step) for earlier, later in pairwise(found))
    assert round(step / 10 ** int(log10(step) // 1), 3) in {1, 2, 5, 10}


@given(st.integers(0, 10_000_000), MOST)
def test_what_is_counted_has_whole_levels(highest: int, most: int) -> None:
    assert all(level == int(level) for level in round_levels(0, highest, most, finest=1))


@given(st.floats(0.01, 1_000_000), st.integers(2, 12))
def test_no_finer_round_step_would_do(highest: float, most: int) -> None:
    found = round_levels(0, highest, most)
    step = found[1]
    finer = step / 2 if str(step).strip("0.")[0] in "12" else step / 2.5
    assert highest / finer > most - 1e-6


@pytest.mark.parametrize(("most", "step"), [(1, 0.2), (10, 2), (22, 5), (40, 10), (81, 20), (900, 200)])
def test_lines_stand_at_round_numbers(most: float, step: float) -> None:
    assert round_levels(0, most, 7)[1] == pytest.approx(step)


@pytest.mark.parametrize(("low", "high", "most"), [(1, 0, 5), (0, 1, 1), (float("nan"), 1, 5)])
def test_an_axis_that_cannot_be_is_refused(low: float, high: float, most: int) -> None:
    with pytest.raises(ValueError, match="no axis"):
        round_levels(low, high, most)
