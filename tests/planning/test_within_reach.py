"""Hours within reach of what arrives in a week."""

from hypothesis import given
from hypothesis import strategies as st

from service_center.planning.rules.bench_hours import WAIT_WEEKS, within_reach


def test_a_closed_week_is_no_wall_and_no_hour_is_given_twice() -> None:
    hours = [40.0, 40.0, 40.0, 0.0, 40.0, 40.0, 40.0, 40.0, 40.0]

    assert within_reach(hours) == [30, 30, 30, 30, 40, 40]
    assert within_reach([40.0] * 9) == [40] * 6


@given(st.lists(st.floats(0, 500), min_size=4, max_size=40))
def test_within_reach_never_more_than_there_is_by_the_end_of_the_wait(hours: list[float]) -> None:
    reach = within_reach(hours)
    for week in range(len(reach)):
        assert sum(reach[: week + 1]) <= sum(hours[: week + 1 + WAIT_WEEKS]) + 1e-6
