"""What chance does to a promise: drawn minutes, the ninth decile, its error, and the time it takes to work out."""

from dataclasses import replace
from datetime import timedelta
from time import process_time

import numpy as np
import pytest
from scipy.stats import binom, gamma

from service_center.book.rules import Complexity
from service_center.planning.rules.promising.simulation import drawn, quote
from service_center.planning.rules.promising.values import Bench, Order, Turn, turns_of
from tests.planning.promising.house import MONDAY, bench, eight_hours, hours, order


@pytest.mark.parametrize("turn", [Turn(90, 20), Turn(15, 15), Turn(400, 120)])
def test_drawn_minutes_have_their_mean_and_spread(turn: Turn) -> None:
    many = 40_000
    found = drawn(order(7, turn), many)[:, 0]
    assert found.min() >= 0
    assert abs(found.mean() - turn.minutes) < 4 * turn.spread / np.sqrt(many)
    assert found.std() == pytest.approx(turn.spread, rel=0.04)


def test_a_spread_of_nothing_is_the_minutes_themselves() -> None:
    assert set(drawn(order(7, Turn(90), Turn(30, 1e-200)), 50).ravel()) == {90.0, 30.0}


def test_an_order_keeps_its_draws_whoever_stands_beside_it() -> None:
    turn = hours(4, spread=2)
    alone = quote(MONDAY, [bench(), bench()], [], order(5, turn))
    chronograph = order(6, turn, complexity=Complexity.CHRONOGRAPH, promised_on=MONDAY)
    able = bench(eight_hours(), Complexity.CHRONOGRAPH)
    usual = bench(eight_hours(), Complexity.AUTOMATIC)
    assert quote(MONDAY, [usual, able], [chronograph], order(5, turn)).nine_in_ten_by == alone.nine_in_ten_by
    assert not np.array_equal(drawn(order(5, turn), 20), drawn(order(6, turn), 20))


def test_the_same_book_gives_the_same_answer() -> None:
    house = [order(key, hours(5, spread=2, wait=24), hours(2, spread=1), promised_on=MONDAY) for key in range(20)]
    first = quote(MONDAY, [bench()], house, order(99, hours(5, spread=2)), pace=0.1)
    assert first == quote(MONDAY, [bench()], house, order(99, hours(5, spread=2)), pace=0.1)


def test_orders_in_a_row_are_ready_when_the_law_of_their_sum_says() -> None:
    """Exponential times in a row add up to the law of Erlang: 38 of two hours, against SciPy's."""
    house = [order(key, hours(2, spread=2), promised_on=MONDAY) for key in range(37)]
    found = quote(MONDAY, [bench()], house, order(99, hours(2, spread=2)), replications=4_000)
    working_days = [MONDAY + timedelta(days=day) for day in range(40) if day % 7 < 5]
    by_day = [gamma.cdf(8 * (number + 1), 38, scale=2) for number in range(len(working_days))]
    half, nine = (
        next(day for day, share in zip(working_days, by_day, strict=True) if share >= one) for one in (0.5, 0.9)
    )
    assert (found.half_by, found.nine_in_ten_by) == (half, nine)


def test_more_replications_agree_within_the_stated_error() -> None:
    house = [order(key, hours(4, spread=3), promised_on=MONDAY) for key in range(60)]
    few = quote(MONDAY, [bench()], house, order(99, hours(4, spread=3)), pace=0.1)
    many = quote(MONDAY, [bench()], house, order(99, hours(4, spread=3)), pace=0.1, replications=4_000)
    low, high = few.between
    assert low and high and few.nine_in_ten_by and many.nine_in_ten_by
    assert low <= few.nine_in_ten_by <= high
    assert low <= many.nine_in_ten_by <= high
    assert (high - low) <= timedelta(days=7)


def test_what_slows_all_work_together_makes_the_promise_later() -> None:
    house = [order(key, hours(4, spread=1), promised_on=MONDAY) for key in range(60)]
    new = order(99, hours(4, spread=1))
    alone, together = quote(MONDAY, [bench()], house, new), quote(MONDAY, [bench()], house, new, pace=0.1)
    assert alone.nine_in_ten_by and together.nine_in_ten_by
    assert alone.nine_in_ten_by < together.nine_in_ten_by


def test_operations_without_a_wait_between_them_are_one_turn() -> None:
    turns = turns_of([Turn(15, 3), Turn(110, 4, 24), Turn(35, 6), Turn(20, 0), Turn(20, 8, 72)])
    assert turns == (Turn(125, 5, 24), Turn(75, 10, 72))
    assert turns_of([]) == ()


def test_a_quote_with_300_orders_and_12_watchmakers_takes_under_a_second() -> None:
    skills = list(Complexity)
    chance = np.random.default_rng(1)
    turns = (Turn(235, 70, 24), Turn(80, 24, 12), Turn(20, 6, 72))
    house = [
        Order(
            key,
            skills[chance.choice(4, p=[0.3, 0.4, 0.2, 0.1])],
            turns[int(chance.integers(0, 3)) :],
            free_after=float(chance.integers(0, 30)),
            promised_on=MONDAY + timedelta(days=int(chance.integers(3, 60))),
        )
        for key in range(300)
    ]
    team = [frozenset(skills[:2])] * 5 + [frozenset(skills[:3])] * 4 + [frozenset(skills)] * 3
    benches = [Bench(able, eight_hours(hours=6)) for able in team]
    new = replace(order(999, *turns), promised_on=None)
    before = process_time()
    found = quote(MONDAY, benches, house, new, pace=0.1)
    assert process_time() - before < 1  # processor time: what else runs on the machine does not count
    assert found.nine_in_ten_by is not None
    assert found.orders_before == 300


def test_of_many_houses_nine_in_ten_keep_what_was_quoted() -> None:
    """Each house is quoted once, and then lived through once, with minutes that the quote did not know."""
    chance = np.random.default_rng(5)
    houses, kept, half_kept = 200, 0, 0
    for _house in range(houses):
        keys = [int(one) for one in chance.choice(10**6, 12, replace=False)]
        house = [order(key, hours(6, spread=9, wait=24), promised_on=MONDAY) for key in keys]
        new = order(10**6, hours(6, spread=9))
        quoted = quote(MONDAY, [bench()], house, new)
        as_lived = [replace(one, key=one.key + 10**7) for one in house]
        new_as_lived = replace(new, key=int(chance.integers(10**8, 10**9)))
        lived = quote(MONDAY, [bench()], as_lived, new_as_lived, replications=1).half_by
        assert quoted.half_by and quoted.nine_in_ten_by and lived
        kept += lived <= quoted.nine_in_ten_by
        half_kept += lived <= quoted.half_by
    # A day is whole, so that somewhat more than the share keep it: at a spread of four days by no more than these.
    assert binom.ppf(0.001, houses, 0.90) <= kept <= binom.ppf(0.999, houses, 0.94)
    assert binom.ppf(0.001, houses, 0.50) <= half_kept <= binom.ppf(0.999, houses, 0.60)
