"""Levelling against a dense formulation of its own, and what every plan must keep to."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from service_center.planning.rules.levelling import (
    Cohort,
    Costs,
    Problem,
    closes_for_planning,
    standing,
    window,
    without_levelling,
)
from service_center.planning.rules.programme import optimum
from service_center.planning.rules.proposing import propose
from service_center.planning.rules.rounding import whole_pieces

SKILLS = ("simple", "automatic")


def dense_minimum(problem: Problem) -> float:
    """outside.md word for word, all skills in one: a column a cohort and week, and SciPy's `milp` without whole numbers."""
    weeks, cohorts, costs = problem.weeks, problem.cohorts, problem.costs
    pairs = [(c, w) for c, one in enumerate(cohorts) for w in range(weeks) if one.opens <= w <= one.closes]
    overs = [(skill, w) for skill in problem.capacity for w in range(weeks)]
    cost = []
    for c, w in pairs:
        one = cohorts[c]
        price = costs.early * (one.due - w) if w < one.due else costs.late * (w - one.due)
        cost.append(price + (costs.moved if one.planned is not None and w != one.planned else 0))
    cost += [costs.overload_hour] * len(overs)
    whole = np.zeros((len(cohorts), len(cost)))
    for column, (c, _) in enumerate(pairs):
        whole[c, column] = 1
    room = np.zeros((len(overs), len(cost)))
    limit = np.zeros(len(overs))
    for row, (skill, week) in enumerate(overs):
        limit[row] = problem.capacity[skill][week] - problem.committed[skill][week]
        room[row, len(pairs) + row] = -1
        for column, (c, w) in enumerate(pairs):
            answers = problem.answers[skill]
            if cohorts[c].skill == skill and 0 <= week - w < len(answers):
                room[row, column] = problem.hours[skill] * answers[week - w]
    pieces = [one.pieces for one in cohorts]
    found = milp(
        cost,
        constraints=[LinearConstraint(whole, pieces, pieces), LinearConstraint(room, -np.inf, limit)],
        bounds=Bounds(0, np.inf),
    )
    assert found.status == 0, found.message
    return float(found.fun)


@st.composite
def problems(draw: st.DrawFn) -> Problem:
    weeks = draw(st.integers(1, 9))
    cohorts = []
    for _ in range(draw(st.integers(1, 6))):
        opens = draw(st.integers(-3, weeks - 1))
        closes = draw(st.integers(max(opens, 0), weeks + 3))
        due = draw(st.integers(opens, closes))
        planned = draw(st.none() | st.integers(max(opens, 0), min(closes, weeks - 1)))
        cohorts.append(Cohort(draw(st.sampled_from(SKILLS)), opens, due, closes, draw(st.integers(1, 40)), planned))
    hours = st.integers(0, 60).map(float)
    shares = st.lists(st.integers(0, 30).map(lambda n: n / 100), min_size=1, max_size=3)
    return Problem(
        weeks=weeks,
        cohorts=cohorts,
        hours={skill: draw(st.sampled_from([4.0, 5.5, 9.0])) for skill in SKILLS},
        answers={skill: draw(shares) for skill in SKILLS},
        capacity={skill: draw(st.lists(hours, min_size=weeks, max_size=weeks)) for skill in SKILLS},
        committed={skill: draw(st.lists(hours, min_size=weeks, max_size=weeks)) for skill in SKILLS},
        costs=Costs(early=1, late=draw(st.sampled_from([2.0, 3.0])), overload_hour=1000, moved=0.25),
    )


@settings(max_examples=120, deadline=None)
@given(problems())
def test_the_minimum_is_that_of_a_dense_formulation(problem: Problem) -> None:
    expected = dense_minimum(problem)
    found = optimum(problem)
    assert found.objective == pytest.approx(expected, rel=1e-6, abs=1e-6)
    assert standing(problem, found.invited).cost == pytest.approx(expected, rel=1e-6, abs=1e-6)


@settings(max_examples=120, deadline=None)
@given(problems())
def test_every_piece_is_planned_once_in_its_window_within_one_of_the_optimum(problem: Problem) -> None:
    best = optimum(problem)
    invited = whole_pieces(problem, best.invited)
    assert (invited >= 0).all()
    for cohort, row, parts in zip(problem.cohorts, invited, best.invited, strict=True):
        assert row.sum() == cohort.pieces
        assert set(np.flatnonzero(row)) <= set(window(cohort, problem.weeks))
        assert np.abs(row - parts).max() <= 1 + 1e-5


@settings(max_examples=80, deadline=None)
@given(problems())
def test_a_second_run_without_new_facts_changes_nothing(problem: Problem) -> None:
    first = propose(problem, None)
    accepted = [
        Cohort(one.skill, one.opens, one.due, one.closes, int(number), week)
        for one, row in zip(problem.cohorts, first.invited, strict=True)
        for week, number in enumerate(row)
        if number
    ]
    again = Problem(
        problem.weeks, accepted, problem.hours, problem.answers, problem.capacity, problem.committed, problem.costs
    )
    second = propose(again, first.gap)
    assert second.unchanged
    for cohort, row in zip(accepted, second.invited, strict=True):
        assert row[cohort.planned] == cohort.pieces


def of_one_skill(cohorts: list[Cohort], capacity: list[float], *, share: float = 1.0, hours: float = 1.0) -> Problem:
    none = [0.0] * len(capacity)
    return Problem(
        len(capacity), cohorts, {"simple": hours}, {"simple": [share]}, {"simple": capacity}, {"simple": none}
    )


def test_a_crowded_due_week_is_spread_to_the_weeks_before_it() -> None:
    found = propose(of_one_skill([Cohort("simple", 0, 2, 4, 30)], [10.0] * 5), None)
    assert found.invited.tolist() == [[10, 10, 10, 0, 0]]
    assert (found.objective, found.after.overload_hours, found.before.peak, found.after.peak) == (30, 0, 30, 10)


def test_hours_over_capacity_only_when_nothing_else_is_left() -> None:
    roomy = propose(of_one_skill([Cohort("simple", 0, 0, 4, 50)], [10.0] * 5), None)
    assert roomy.after.overload_hours == 0
    crowded = propose(of_one_skill([Cohort("simple", 0, 0, 4, 53)], [10.0] * 5), None)
    assert crowded.after.overload_hours == pytest.approx(3)


def test_a_week_that_is_wanted_by_no_other_is_used_before_any_overload() -> None:
    """A long way off, and for a small share of owners: still cheaper than a bench that is too small."""
    cohorts = [Cohort("simple", 0, 0, 103, 40)]
    capacity = [0.4, *[0.0] * 102, 3.6]
    found = propose(of_one_skill(cohorts, capacity, share=0.1), None)
    assert found.after.overload_hours == pytest.approx(0, abs=1e-9)
    assert found.invited[0, 0] == 4
    assert found.invited[0, 103] == 36


def test_a_piece_moves_only_where_it_gains_more_than_moving_costs() -> None:
    stays = propose(of_one_skill([Cohort("simple", 0, 2, 4, 5, planned=2)], [10.0] * 5), None)
    assert stays.invited[0].tolist() == [0, 0, 5, 0, 0]
    closed_week = propose(of_one_skill([Cohort("simple", 0, 2, 4, 5, planned=2)], [10.0, 10.0, 0.0, 10.0, 10.0]), None)
    assert closed_week.invited[0].tolist() == [0, 5, 0, 0, 0]


def test_what_is_past_closes_is_invited_within_a_year() -> None:
    assert closes_for_planning(opens=-90, closes=-1) == 51
    assert closes_for_planning(opens=-90, closes=0) == 0


def test_without_a_plan_letters_go_nine_weeks_before_due_within_the_window() -> None:
    cohorts = [Cohort("simple", 0, 9, 12, 1), Cohort("simple", 3, 9, 12, 1), Cohort("simple", 0, 9, 12, 1, planned=7)]
    found = without_levelling(of_one_skill(cohorts, [1.0] * 13), 9)
    assert np.argmax(found, axis=1).tolist() == [0, 3, 7]


def test_a_cohort_without_a_week_is_refused() -> None:
    with pytest.raises(ValueError, match="no week of the horizon"):
        window(Cohort("simple", 5, 6, 7, 1), 5)
