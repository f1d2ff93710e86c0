"""How orders and benches become what a promise is worked out from."""

from datetime import date, timedelta

import pytest

from service_center.planning.rules.bench_hours import Benches
from service_center.planning.rules.promising.scoring import Score, likely_share
from service_center.planning.rules.promising.standing import Work, minutes_of_skill, ranked_at, work_of
from service_center.planning.rules.promising.values import Turn
from service_center.workshop.orders.rules.learning import Learnt
from service_center.workshop.orders.rules.operations import Time
from tests.planning.promising.house import MONDAY


def test_what_was_learnt_stands_before_what_was_planned() -> None:
    assert work_of([(Time(100, 24), None)]) == Work((Turn(100, 30, 24),))
    assert work_of([(Time(100, 24), Learnt(80, 10, 40))]) == Work((Turn(80, 10, 24),))


def test_a_spread_is_never_believed_to_be_nothing() -> None:
    assert work_of([(Time(100), Learnt(80, 0, 6))]) == Work((Turn(80, 4),))


def test_an_operation_without_minutes_only_waits() -> None:
    assert work_of([(Time(0, 6), None), (Time(10), None), (Time(0, 12), None), (Time(10, 2), None)]) == Work(
        (Turn(10, 3, 12), Turn(10, 3, 2)), 6
    )
    assert work_of([]) == Work(())


def test_hours_of_a_skill_are_shared_by_watchmakers_of_a_whole_week_at_most() -> None:
    forty, eighty_one = (minutes_of_skill(Benches(hours), MONDAY, 14, ()) for hours in (40, 81))
    assert [one.tolist() for one in forty] == [[480, 480, 480, 480, 480, 0, 0] * 2]
    assert [one.tolist() for one in eighty_one] == [[324, 324, 324, 324, 324, 0, 0] * 2] * 3


def test_hours_of_a_skill_begin_on_their_day_and_rest_with_the_workshop() -> None:
    tuesday, thursday = MONDAY + timedelta(days=1), MONDAY + timedelta(days=3)
    (found,) = minutes_of_skill(Benches(10, tuesday), MONDAY, 7, [thursday])
    assert found.tolist() == [0, 120, 120, 0, 120, 0, 0]


def test_a_new_order_stands_behind_those_of_its_own_kind_and_is_ranked_as_usual_among_others() -> None:
    usual = date(2026, 3, 20)
    assert ranked_at(usual, []) == usual
    assert ranked_at(usual, [date(2026, 3, 10), None]) is None
    assert ranked_at(usual, [date(2026, 3, 10), date(2026, 4, 30)]) == date(2026, 4, 30)


def test_scores_add_up() -> None:
    together = Score(10, 8, 4, 3) + Score(10, 10, 0, 0)
    assert (together.share_kept, together.share_within) == (0.9, 0.75)
    assert (Score().share_kept, Score().share_within) == (None, None)


@pytest.mark.parametrize(
    ("good", "of", "low", "high"), [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611)]
)
def test_the_range_of_a_share_is_the_published_one(good: int, of: int, low: float, high: float) -> None:
    """Wilson's score intervals as Newcombe printed them (1998, Statistics in Medicine 17:857-872, table I, method 3)."""
    assert [round(one, 4) for one in likely_share(good, of)] == [low, high]


@pytest.mark.parametrize(("good", "of"), [(0, 0), (3, 2), (-1, 2)])
def test_a_share_that_cannot_be_is_refused(good: int, of: int) -> None:
    with pytest.raises(ValueError, match="share"):
        likely_share(good, of)
