"""The time-to-answer curve, and what few letters may say."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lifelines import KaplanMeierFitter

from service_center.book.rules import ServiceKind
from service_center.letters.rules.words import Step
from service_center.planning.rules.arrivals import (
    COME_AT_ALL,
    OVERHAUL_INVITATION,
    answer_shares,
    common_shares,
    hazard_of,
    house_shares,
    learn,
    shares_of,
    still_to_come,
)
from service_center.planning.rules.survival import Sent, kaplan_meier

COMMON_SHARES = common_shares(OVERHAUL_INVITATION)


@given(st.lists(st.builds(Sent, st.integers(0, 30), st.booleans(), st.integers(1, 4)), min_size=1, max_size=25))
def test_any_letters_give_the_curve_of_lifelines(letters: list[Sent]) -> None:
    """With letters counted by age here, and one by one there."""
    spread = [one for one in letters for _ in range(one.pieces)]
    fitted = KaplanMeierFitter().fit([one.weeks for one in spread], [one.arrived for one in spread])
    found = kaplan_meier(letters)
    assert found.survival == pytest.approx(fitted.survival_function_at_times(found.times).to_numpy())


def test_the_time_of_an_arrival_is_left_out_where_nobody_came() -> None:
    assert kaplan_meier([Sent(8, False, 5)]).times.size == 0


def test_shares_and_hazards_are_two_ways_to_say_the_same() -> None:
    assert shares_of(hazard_of(COMMON_SHARES)) == pytest.approx(COMMON_SHARES)
    assert math.isclose(sum(COMMON_SHARES), COME_AT_ALL[OVERHAUL_INVITATION])


def test_a_house_without_letters_expects_what_is_common() -> None:
    assert answer_shares({"simple": []})["simple"] == pytest.approx(COMMON_SHARES)


def test_many_letters_speak_for_themselves_and_few_speak_with_the_house() -> None:
    many = [Sent(3, True, 60_000), Sent(40, False, 40_000)]
    found = answer_shares({"simple": many, "complicated": [Sent(40, False, 2)]})
    assert found["simple"][3] == pytest.approx(0.6, abs=0.001)
    assert found["complicated"][3] == pytest.approx(0.6 * 60 / 62, abs=0.002)


def test_letters_of_last_month_say_nothing_of_later_weeks() -> None:
    old = [Sent(2, True, 5_000), Sent(9, True, 20_000), Sent(60, False, 75_000)]
    young = [Sent(2, True, 5_000), Sent(4, False, 95_000)]
    found = answer_shares({"simple": [*old, *young]})["simple"]
    assert found[2] == pytest.approx(0.05, abs=0.001)
    assert found[9] == pytest.approx(0.2, abs=0.001)


def test_who_has_not_come_yet_may_come_in_the_weeks_that_are_left() -> None:
    shares = np.array([0.1, 0.3, 0.2])
    assert still_to_come(shares, 0) == pytest.approx([0.1, 0.3, 0.2])
    assert still_to_come(shares, 2) == pytest.approx([0.2 / 0.6])
    assert still_to_come(shares, 3).size == 0


def test_each_letter_has_a_curve_of_its_own_and_few_letters_are_drawn_to_common_practice() -> None:
    nudge = (ServiceKind.OVERHAUL, Step.NUDGE)
    found = learn(
        {OVERHAUL_INVITATION: {"simple": [Sent(3, True, 60_000), Sent(40, False, 40_000)]}, nudge: {"simple": []}}
    )
    assert found[OVERHAUL_INVITATION]["simple"].sum() == pytest.approx(0.6, abs=0.001)
    assert found[nudge]["simple"].sum() == pytest.approx(COME_AT_ALL[nudge])
    assert set(found) == set(COME_AT_ALL)


def test_the_house_is_all_its_skills_together() -> None:
    many = [Sent(5, True, 30_000), Sent(40, False, 70_000)]
    assert house_shares(many, OVERHAUL_INVITATION)[5] == pytest.approx(0.3, abs=0.001)
    assert house_shares([], OVERHAUL_INVITATION) == pytest.approx(COMMON_SHARES)
