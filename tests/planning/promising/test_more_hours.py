"""More bench hours never give a later day."""

from datetime import timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service_center.book.rules import Complexity
from service_center.planning.rules.promising.simulation import quote
from service_center.planning.rules.promising.values import Bench, Minutes, Order, Quote, Turn
from tests.planning.promising.house import MONDAY, bench, eight_hours, hours, order

minutes = st.floats(5, 1500)
single = st.builds(Turn, minutes, st.floats(0, 600), st.sampled_from([0.0, 12.0, 72.0]))
queues = st.lists(single, max_size=12).map(
    lambda turns: [Order(key, Complexity.SIMPLE, (turn,), promised_on=MONDAY) for key, turn in enumerate(turns)]
)


def asked(benches: list[Bench], before: list[Order], new: Order) -> Quote:
    return quote(MONDAY, benches, before, new, replications=40)


def not_later(more: Quote, less: Quote) -> bool:
    """None is never: later than any day."""
    never = MONDAY + timedelta(days=10_000)
    return (more.half_by or never) <= (less.half_by or never) and (more.nine_in_ten_by or never) <= (
        less.nine_in_ten_by or never
    )


# Three weeks of its own, over and over.
days_of_a_bench = st.lists(st.integers(0, 480), min_size=21, max_size=21).map(lambda days: np.tile([*days, 1], 10))


@given(
    less=days_of_a_bench,
    more=days_of_a_bench,
    before=queues,
    new=single,
    on_their_way=st.lists(st.sampled_from([0.0, 20.0, 100.0]), min_size=12, max_size=12),
)
def test_one_bench_with_more_hours_on_any_day(
    less: Minutes, more: Minutes, before: list[Order], new: Turn, on_their_way: list[float]
) -> None:
    large = less + more
    coming = [
        Order(one.key, one.complexity, one.turns, free_after=after, promised_on=MONDAY)
        for one, after in zip(before, on_their_way, strict=False)
    ]
    last = order(99, new, complexity=Complexity.SIMPLE)
    assert not_later(asked([bench(large)], coming, last), asked([bench(less)], coming, last))


@given(benches=st.integers(1, 4), less=days_of_a_bench, more=days_of_a_bench, before=queues, new=single)
def test_longer_days_for_all_watchmakers(
    benches: int, less: Minutes, more: Minutes, before: list[Order], new: Turn
) -> None:
    large = less + more
    last = order(99, new, complexity=Complexity.SIMPLE)
    assert not_later(asked([bench(large)] * benches, before, last), asked([bench(less)] * benches, before, last))


@given(benches=st.integers(1, 4), by_day=days_of_a_bench, before=queues, new=single)
def test_one_more_watchmaker(benches: int, by_day: Minutes, before: list[Order], new: Turn) -> None:
    each = bench(by_day)
    last = order(99, new, complexity=Complexity.SIMPLE)
    assert not_later(asked([each] * (benches + 1), before, last), asked([each] * benches, before, last))


def overhaul(key: int, complexity: Complexity, turns_done: int = 0, **fields: object) -> Order:
    at_bench = {
        Complexity.SIMPLE: (165, 35, 15),
        Complexity.AUTOMATIC: (235, 80, 20),
        Complexity.CHRONOGRAPH: (415, 135, 25),
        Complexity.COMPLICATED: (830, 180, 35),
    }[complexity]
    waits = (24, 12, 72)
    turns = tuple(Turn(one, one * 0.3, wait) for one, wait in zip(at_bench, waits, strict=True))
    return Order(key, complexity, turns[turns_done:], **fields)  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", range(12))
def test_a_house_of_overhauls_with_their_waits(seed: int) -> None:
    """Where pieces come back to the bench after a wait this is no theorem; of a house as it is, it holds."""
    chance = np.random.default_rng(seed)
    skills = list(Complexity)
    before = [
        overhaul(
            key,
            skills[chance.choice(4, p=[0.3, 0.4, 0.2, 0.1])],
            int(chance.integers(0, 3)),
            promised_on=MONDAY + timedelta(days=int(chance.integers(3, 60))),
            free_after=float(chance.integers(0, 30)),
        )
        for key in range(1, int(chance.integers(5, 50)))
    ]
    team = [frozenset(skills), *(frozenset(skills[: int(chance.integers(1, 5))]) for _ in range(3))]
    new = overhaul(999, Complexity.AUTOMATIC, promised_on=MONDAY + timedelta(days=25))
    quotes = [
        asked([Bench(able, eight_hours(hours=one)) for able in team], before, new)
        for one in (5, 5.5, 6, 6.5, 7, 7.5, 8)
    ]
    assert all(not_later(more, less) for less, more in pairwise(quotes))


def test_a_piece_that_comes_back_earlier_may_take_the_bench_from_one_ranked_behind_it() -> None:
    """The exception, known of any queue that leaves no bench idle (Graham 1966): ten minutes more, a day later."""
    back_again = order(1, hours(1, wait=24), hours(10), promised_on=MONDAY)
    new = order(2, hours(2), free_after=33.5)  # at the bench on Tuesday at 9:30
    short, longer = eight_hours(), eight_hours()
    short[0], longer[0] = 50, 60
    # The first turn ends on Tuesday at 8:10, and its rest on Wednesday: the bench is free for the other.
    assert asked([bench(short)], [back_again], new).nine_in_ten_by == MONDAY + timedelta(days=1)
    # It ends on Monday at 9:00, and its rest on Tuesday at 9:00, before the other is there.
    assert asked([bench(longer)], [back_again], new).nine_in_ten_by == MONDAY + timedelta(days=2)


def test_whoever_stands_behind_work_that_the_days_cannot_hold_does_not_go_first() -> None:
    """One minute in three weeks: eleven minutes are not done in ten of them, and five that come after are not either."""
    few = np.tile([*[0] * 21, 1], 10)
    before = [Order(0, Complexity.SIMPLE, (Turn(11.0, 0.0, 0.0),), promised_on=MONDAY)]
    last = order(99, Turn(5.0, 0.0, 0.0), complexity=Complexity.SIMPLE)
    assert asked([bench(few)], before, last).half_by is None
    assert asked([bench(2 * few)], before, last).half_by is not None
