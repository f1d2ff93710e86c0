"""Which overhauls a part is needed for, as pure rules."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import nbinom

from service_center.book.rules import EntryKind
from service_center.planning.rules.parts import NONE_EXPECTED, Rate, first_short_week, needs, order_up_to
from service_center.planning.rules.parts_needed import (
    a_week,
    checks_by_week,
    orders_by_week,
    overhauls_ahead,
    overhauls_by_week,
    shares_of_skills,
    there_by_week,
    weeks_to_cover,
)
from service_center.planning.rules.picture import Picture, SkillWeeks, Sums

MONDAY = date(2026, 11, 23)


def skill_weeks(*, hours: float = 5.0) -> SkillWeeks:
    """Three weeks: 2, 1 and 0 pieces of letters out; 10, 15 and 20 hours to come; 3 hours promised in the first."""
    out = [2.0, 1.0, 0.0]
    letters_out = [pieces * hours for pieces in out]
    to_come, promised = [10.0, 15.0, 20.0], [3.0, 0.0, 0.0]
    before = [sum(three) for three in zip(letters_out, to_come, promised, strict=True)]
    return SkillWeeks(
        skill="automatic", hours=hours, answers=[0.5], capacity=[40.0] * 3, promised=promised,
        letters_out=letters_out, overhauls_out=out, before=before, after=[0.0] * 3,
        invited_before=[0] * 3, invited_after=[0] * 3,
    )  # fmt: skip


def picture() -> Picture:
    nothing = Sums(0, 0, 0, 0)
    return Picture(MONDAY, [skill_weeks()], nothing, nothing, 0.0, 0, False, 0, 0)


def test_a_week_brings_the_pieces_of_letters_out_and_the_hours_to_come_divided_by_those_of_a_piece() -> None:
    assert overhauls_by_week(skill_weeks()) == pytest.approx([2 + 2, 1 + 3, 0 + 4])


def test_weeks_that_are_over_are_left_out_of_an_old_picture() -> None:
    later = overhauls_ahead(picture(), MONDAY + timedelta(days=9))
    assert later["automatic"] == pytest.approx([4.0, 4.0])
    assert overhauls_ahead(picture(), MONDAY + timedelta(days=6))["automatic"] == pytest.approx([4.0, 4.0, 4.0])
    assert overhauls_ahead(picture(), MONDAY + timedelta(weeks=9))["automatic"] == []


def test_a_part_is_needed_by_its_share_of_each_skill_and_by_the_orders_that_wait() -> None:
    overhauls = {"automatic": [10.0, 20.0], "simple": [4.0, 0.0]}
    waiting = {EntryKind.OVERHAUL: 3}
    assert overhauls_of(overhauls, {"automatic": 0.25}, waiting) == pytest.approx([3 + 2.5, 5.0])
    assert overhauls_of(overhauls, {"automatic": 0.25, "simple": 1.0}, {}) == pytest.approx([6.5, 5.0])


def overhauls_of(
    overhauls: dict[str, list[float]], shares: dict[str, float], waiting: dict[EntryKind, int]
) -> list[float]:
    return orders_by_week(overhauls, shares, {}, waiting)[list(EntryKind).index(EntryKind.OVERHAUL)]


def test_repairs_and_checks_are_counted_by_their_own_weeks_beside_the_overhauls() -> None:
    ahead = {EntryKind.REPAIR: [0.5, 0.5, 0.5], EntryKind.TIGHTNESS_CHECK: [4.0, 6.0, 8.0]}
    waiting = {EntryKind.TIGHTNESS_CHECK: 2}
    found = dict(zip(EntryKind, orders_by_week({"automatic": [10.0, 20.0]}, {}, ahead, waiting), strict=True))
    assert found[EntryKind.REPAIR] == [0.5, 0.5]
    assert found[EntryKind.TIGHTNESS_CHECK] == [6.0, 6.0]
    assert found[EntryKind.OVERHAUL] == [0.0, 0.0]


def test_checks_come_after_the_letters_that_are_out_and_those_to_come() -> None:
    """Ten invitations in the second week, of whose owners one in five comes at once and three in ten a week later."""
    assert checks_by_week([1.0, 1.0, 1.0], [0, 10, 0], [0.2, 0.3]) == pytest.approx([1.0, 3.0, 4.0])
    assert checks_by_week([1.0, 1.0], (), [0.2, 0.3]) == [1.0, 1.0]


def test_repairs_come_as_often_as_they_came_and_a_young_house_counts_a_quarter_at_least() -> None:
    assert a_week(26, date(2020, 1, 1), MONDAY) == 0.5
    assert a_week(13, MONDAY - timedelta(weeks=26), MONDAY) == 0.5
    assert a_week(13, MONDAY - timedelta(weeks=2), MONDAY) == 1.0
    assert a_week(0, None, MONDAY) == 0.0


def test_a_delivery_lies_there_from_the_monday_on_or_after_its_day_and_an_overdue_one_not_at_all() -> None:
    wednesday = MONDAY + timedelta(days=2)
    awaited = [(30, MONDAY + timedelta(weeks=1)), (5, MONDAY + timedelta(days=9)), (100, MONDAY)]
    assert there_by_week(4, awaited, wednesday, 4) == [4, 34, 39, 39]


@pytest.mark.parametrize("overhauls", [{}, {"automatic": []}])
def test_orders_that_wait_count_where_nothing_is_planned(overhauls: dict[str, list[float]]) -> None:
    assert overhauls_of(overhauls, {"automatic": 1.0}, {EntryKind.OVERHAUL: 3}) == [3.0]


def test_the_share_of_a_skill_is_that_of_its_due_overhauls() -> None:
    due = {1: 30, 2: 10, 3: 60, None: 7}
    skills = {1: "automatic", 2: "automatic", 3: "simple", 4: ""}
    assert shares_of_skills(due, skills, [1]) == {"automatic": 0.75, "simple": 0.0}
    assert shares_of_skills(due, skills, [2, 3]) == {"automatic": 0.25, "simple": 1.0}


def test_shares_of_calibres_add_up_to_the_whole_skill() -> None:
    due, skills = {1: 31, 2: 11, 3: 7}, {1: "simple", 2: "simple", 3: "simple"}
    assert sum(shares_of_skills(due, skills, [model])["simple"] for model in due) == pytest.approx(1.0)


def test_an_order_lasts_from_its_delivery_within_the_weeks_that_are_planned() -> None:
    assert weeks_to_cover(26, 21, 52) == 29
    assert weeks_to_cover(26, 22, 52) == 30
    assert weeks_to_cover(52, 21, 52) == 52


@given(
    st.integers(0, 300), st.integers(0, 300), st.sampled_from([0.0, 0.1, 1.0]), st.floats(0, 400)
)  # fmt: skip
def test_many_parts_at_once_need_what_scipy_says_of_each(used: int, orders: int, usual: float, ahead: float) -> None:
    rate = Rate(used, orders, usual)
    [[nothing, need], _] = needs([[rate], [Rate(1, 1, 1.0)]], [[[0.0, ahead]], [[1.0, 1.0]]])
    one = nbinom(rate.shape, rate.weight / (rate.weight + ahead))
    assert (nothing.low, nothing.high, nothing.expected) == (0, 0, 0.0)
    assert (need.low, need.high) == (one.ppf(0.1), one.ppf(0.9))
    assert need.expected == pytest.approx(rate.mean * ahead if ahead > NONE_EXPECTED else 0.0)


@given(st.integers(0, 60), st.lists(st.floats(0, 10), min_size=1, max_size=20))
def test_the_first_short_week_is_the_first_that_needs_more_than_there_is(on_hand: int, weeks: list[float]) -> None:
    rate = Rate(80, 100, 1.0)
    high = [needs([[rate]], [[[sum(weeks[: number + 1])]]])[0][0].high for number in range(len(weeks))]
    expected = next((number for number, most in enumerate(high) if most > on_hand), None)
    assert first_short_week([rate], [weeks], [on_hand] * len(weeks)) == expected


def test_a_shelf_below_nothing_is_short_now_and_is_filled_from_there() -> None:
    assert first_short_week([Rate(1, 1, 1.0)], [[0.0, 0.0]], [-3, -3]) == 0
    found = order_up_to(0, MONDAY, as_of=MONDAY, there=-3, pack=2, delivery_days=7)
    assert (found.quantity, found.by) == (4, MONDAY)
