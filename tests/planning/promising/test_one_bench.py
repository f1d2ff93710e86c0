"""One bench and fixed minutes: the day is arithmetic (design/workshop.md, promise dates)."""

from datetime import date

import numpy as np
import pytest

from service_center.book.rules import Complexity
from service_center.planning.rules.promising.simulation import NoBenchError, quote
from service_center.planning.rules.promising.values import Bench, Order, Turn
from tests.planning.promising.house import MONDAY, bench, eight_hours, hours, order


def ready(new: Order, *before: Order, benches: list[Bench] | None = None) -> date | None:
    found = quote(MONDAY, benches or [bench()], before, new, replications=3)
    assert found.half_by == found.nine_in_ten_by == found.between[0] == found.between[1]  # nothing is left to chance
    return found.nine_in_ten_by


@pytest.mark.parametrize(
    ("work", "day"),
    [
        (hours(8), date(2026, 3, 2)),  # the whole of Monday
        (hours(8.01), date(2026, 3, 3)),  # and a little of Tuesday
        (hours(40), date(2026, 3, 6)),  # the week
        (hours(41), date(2026, 3, 9)),  # over the weekend
        (hours(8, wait=7), date(2026, 3, 2)),  # done at 16:00, and seven hours later it is 23:00
        (hours(8, wait=9), date(2026, 3, 3)),
        (hours(8, wait=72), date(2026, 3, 5)),  # a reserve of three days, from 16:00 on Monday
        (hours(40, wait=24), date(2026, 3, 7)),  # waits do not mind the weekend
    ],
)
def test_an_empty_bench_is_done_when_its_hours_are(work: Turn, day: date) -> None:
    assert ready(order(1, work)) == day


def test_days_off_are_not_worked() -> None:
    off = bench(eight_hours(off=(1, 2)))  # Tuesday and Wednesday
    assert ready(order(1, hours(9)), benches=[off]) == date(2026, 3, 5)


def test_orders_before_take_their_hours_first() -> None:
    before = [order(number, hours(6), promised_on=date(2026, 3, 20)) for number in range(1, 11)]
    # 60 hours before it, then 6 of its own: 66 hours are a week, three days and two hours.
    assert ready(order(99, hours(6)), *before) == date(2026, 3, 12)


def test_an_order_with_a_later_promise_lets_it_go_first() -> None:
    before = [order(number, hours(8), promised_on=date(2026, 3, 20)) for number in range(1, 4)]
    assert ready(order(99, hours(8), promised_on=date(2026, 3, 10)), *before) == date(2026, 3, 2)
    assert ready(order(99, hours(8), promised_on=date(2026, 3, 20)), *before) == date(2026, 3, 5)


def test_the_bench_works_on_while_a_movement_rests() -> None:
    first = order(1, hours(4, wait=24), hours(4), promised_on=date(2026, 3, 5))
    # Monday 8 to 12 the first; 12 to 16 and Tuesday 8 to 12 the second; the first rests till Tuesday at 12, then 4 hours.
    assert ready(order(2, hours(8), promised_on=date(2026, 3, 20)), first) == date(2026, 3, 3)
    # Ten hours last until 14:00 on Tuesday, and are not broken off for the first.
    assert ready(order(2, hours(10), hours(1), promised_on=date(2026, 3, 20)), first) == date(2026, 3, 4)


def test_a_turn_after_a_wait_comes_when_the_wait_is_over() -> None:
    # Monday to 12:00, a day's rest to Tuesday at 12:00, four hours to 16:00, three days' reserve.
    assert ready(order(1, hours(4, wait=24), hours(4, wait=72))) == date(2026, 3, 6)


def test_a_piece_that_is_still_on_its_way_begins_when_it_is_there() -> None:
    # At the workshop after 48 hours, Wednesday at midnight.
    assert ready(order(1, hours(8), free_after=48)) == date(2026, 3, 4)


def test_a_second_watchmaker_halves_the_queue() -> None:
    before = [order(number, hours(8), promised_on=date(2026, 3, 20)) for number in range(1, 8)]
    assert ready(order(99, hours(8)), *before) == date(2026, 3, 11)
    assert ready(order(99, hours(8)), *before, benches=[bench(), bench()]) == date(2026, 3, 5)


def test_only_a_bench_with_the_skill_counts() -> None:
    simple, able = bench(eight_hours(), Complexity.SIMPLE), bench(eight_hours(off=(0, 1, 2)))
    chronograph = order(99, hours(8), complexity=Complexity.CHRONOGRAPH)
    assert ready(chronograph, benches=[simple, able]) == date(2026, 3, 5)
    with pytest.raises(NoBenchError):
        quote(MONDAY, [simple], [], chronograph)
    with pytest.raises(NoBenchError):
        quote(MONDAY, [simple, bench(np.zeros(400, dtype=np.int64))], [], chronograph)


def test_a_simple_piece_leaves_the_bench_that_can_do_more_to_those_that_need_it() -> None:
    benches = [bench(), bench(eight_hours(), Complexity.SIMPLE)]
    simple = order(1, hours(8), complexity=Complexity.SIMPLE, promised_on=date(2026, 3, 5))
    chronograph = order(2, hours(8), complexity=Complexity.CHRONOGRAPH)
    assert ready(chronograph, simple, benches=benches) == MONDAY


def test_nobody_begins_a_piece_on_the_eve_of_two_weeks_away() -> None:
    leaves = bench(eight_hours(off=tuple(range(1, 14))))
    busy = bench(eight_hours(off=(0,)))
    assert ready(order(1, hours(12)), benches=[leaves, busy]) == date(2026, 3, 4)


def test_what_the_days_given_do_not_hold_has_no_day() -> None:
    assert ready(order(1, hours(41)), benches=[bench(eight_hours(7))]) is None
    assert ready(order(1, hours(40)), benches=[bench(eight_hours(7))]) == date(2026, 3, 6)


def test_orders_before_it_are_those_that_were_promised_no_later() -> None:
    before = [order(number, hours(1), promised_on=date(2026, 3, number)) for number in (5, 6, 6, 7)]
    for promised, count in ((4, 0), (5, 1), (6, 3), (9, 4)):
        new = order(99, hours(1), promised_on=date(2026, 3, promised))
        assert quote(MONDAY, [bench()], before, new, replications=3).orders_before == count
    assert quote(MONDAY, [bench()], before, order(99, hours(1)), replications=3).orders_before == 4


@pytest.mark.parametrize("turn", [{"minutes": 0}, {"minutes": 5, "spread": -1}, {"minutes": 5, "wait_hours": -1}])
def test_a_turn_that_cannot_be_is_refused(turn: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="turn"):
        Turn(**turn)


def test_a_day_has_no_more_than_its_minutes() -> None:
    with pytest.raises(ValueError, match="1440"):
        bench(np.array([480, 1441]))
    with pytest.raises(ValueError, match="whole"):
        bench(np.array([480.0, 0.5]))  # type: ignore[arg-type]
