"""The plan of a small week beside every plan that there is; and what no plan may break."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service_center.planning.rules.week_plan.cost import cost_of
from service_center.planning.rules.week_plan.list_schedule import earliest_promise_first
from service_center.planning.rules.week_plan.planning import plan_week
from service_center.planning.rules.week_plan.relaxation import lower_bound
from service_center.planning.rules.week_plan.week import Bench, Order, Place, Task, Week, broken_rules, lines_of
from service_center.planning.rules.week_plan.why import Why
from tests.planning.week_plan.weeks import DAYS, MONDAY, realistic

TUESDAY, WEDNESDAY, FRIDAY = DAYS[1], DAYS[2], DAYS[4]


def bench(who: int, minutes: int = 100, skills: str = "simple", days: tuple[date, ...] = DAYS) -> Bench:
    return Bench(who, frozenset(skills.split()), dict.fromkeys(days, minutes))


def order(key: int, *tasks: Task, promised: date | None = None, **more: object) -> Order:
    return Order(key, **{"complexity": "simple", "released_on": MONDAY, **more}, promised_on=promised, tasks=tasks)  # type: ignore[arg-type]


def every_plan(week: Week) -> Iterator[dict[int, Place]]:
    tasks = [task for one in week.orders for task in one.tasks]
    places = [None, *(Place(one.watchmaker, day) for one in week.benches for day in week.days)]
    for choice in product(places, repeat=len(tasks)):
        plan = {task.key: place for task, place in zip(tasks, choice, strict=True) if place}
        if not broken_rules(week, plan):
            yield plan


minutes = st.sampled_from([20, 45, 60, 100])
tasks_of_an_order = st.lists(st.tuples(minutes, st.sampled_from([0, 0, 1]), st.booleans()), min_size=1, max_size=2)


@st.composite
def weeks(draw: st.DrawFn, *, most_orders: int = 2, fixed: bool = False) -> Week:
    days = DAYS[:2]
    benches = tuple(
        Bench(
            who,
            frozenset(draw(st.sampled_from([("simple",), ("simple", "chronograph")]))),
            {day: draw(st.sampled_from([0, 60, 120])) for day in days},
        )
        for who in (1, 2)
    )
    orders, key = [], 0
    for number in range(draw(st.integers(1, most_orders))):
        tasks = []
        for length, wait, keeps in draw(tasks_of_an_order):
            there = Place(draw(st.sampled_from([1, 2, 3])), draw(st.sampled_from(DAYS[:3])))
            place = there if fixed and draw(st.booleans()) else None
            tasks.append(Task(key, length, wait, keeps, place))
            key += 1
        orders.append(
            Order(
                number,
                draw(st.sampled_from(["simple", "chronograph"])),
                draw(st.sampled_from(DAYS[:2])),
                draw(st.none() | st.sampled_from([MONDAY, TUESDAY, FRIDAY + timedelta(days=20)])),
                tuple(tasks),
                draw(st.sampled_from([None, None, 1])),
            )
        )
    return Week(days, benches, tuple(orders))


@settings(max_examples=40, deadline=None)
@given(weeks())
def test_no_plan_of_a_small_week_is_cheaper_and_the_bound_says_so(week: Week) -> None:
    cheapest = min(cost_of(week, plan).total for plan in every_plan(week))
    found = plan_week(week)
    assert found.cost.total == cheapest
    assert found.bound == cheapest
    assert found.gap == 0
    assert lower_bound(week, {}).cost <= cheapest


@settings(max_examples=100, deadline=None)
@given(weeks())
def test_no_plan_of_a_small_week_is_less_late_than_its_bound_whatever_it_costs(week: Week) -> None:
    least = min(cost_of(week, plan).days_late for plan in every_plan(week))
    assert lower_bound(week, {}).days_late <= least
    assert plan_week(week).days_bound <= least


def test_work_that_cannot_all_be_in_time_is_told_before_any_plan_is_made() -> None:
    # Three of 60 minutes promised for Monday, a bench of 100: one is in time, one waits till Tuesday, one till Wednesday.
    orders = tuple(order(key, Task(key, 60), promised=MONDAY) for key in (1, 2, 3))
    assert lower_bound(Week(DAYS, (bench(1),), orders), {}).days_late == 3


@settings(max_examples=60, deadline=None)
@given(weeks(most_orders=4, fixed=True))
def test_skills_hours_sequence_and_fixed_lines_hold_whatever_the_week(week: Week) -> None:
    found = plan_week(week)
    named = {one.task for one in found.impossible}
    assert [one for one in broken_rules(week, found.plan) if one.task not in named or one.rule != "fixed"] == []
    asked = {task.key for one in week.orders for task in one.tasks if task.fixed}
    kept = {
        task.key for one in week.orders for task in one.tasks if task.fixed and found.plan.get(task.key) == task.fixed
    }
    assert asked - kept <= named
    assert found.bound <= found.cost.total <= found.plain.total


def test_a_busy_week_is_never_worse_than_the_earliest_promise_first_and_twice_the_same() -> None:
    week = realistic(watchmakers=5, orders=60)
    found = plan_week(week, work=1.0)
    assert found.plan == plan_week(week, work=1.0).plan
    assert found.plain == cost_of(week, earliest_promise_first(week, {}))
    assert found.cost.total < found.plain.total
    assert 0 < found.bound <= found.cost.total
    assert broken_rules(week, found.plan) == []


def test_work_of_one_order_follows_itself_on_a_day_at_one_bench() -> None:
    week = Week(DAYS, (bench(1), bench(2)), (order(1, Task(1, 40), Task(2, 40), promised=MONDAY),))
    found = plan_week(week)
    assert found.plan[1] == found.plan[2]
    assert [line.turn for line in lines_of(week, found.plan)] == [1, 2]


def test_oil_settles_overnight_before_regulation() -> None:
    week = Week(DAYS, (bench(1),), (order(1, Task(1, 40, wait_days=1), Task(2, 40), promised=MONDAY),))
    assert plan_week(week).plan == {1: Place(1, MONDAY), 2: Place(1, TUESDAY)}


def test_a_late_promise_goes_before_work_left_out() -> None:
    promised, other = order(2, Task(2, 60), promised=MONDAY), order(1, Task(1, 100), promised=FRIDAY)
    week = Week((MONDAY,), (bench(1),), (other, promised))
    found = plan_week(week)
    assert found.plan == {2: Place(1, MONDAY)}


def test_whoever_began_an_order_finishes_it() -> None:
    week = Week(DAYS, (bench(1), bench(2)), (order(1, Task(1, 40, keeps_bench=True), bench=2),))
    found = plan_week(week)
    assert found.plan[1].watchmaker == 2
    assert found.cost.changes == 0


def test_work_is_spread_over_the_benches() -> None:
    orders = tuple(order(key, Task(key, 100)) for key in range(4))
    found = plan_week(Week(DAYS, (bench(1), bench(2)), orders))
    assert found.cost.load == 40


FIXED_WRONG = [
    (Place(9, MONDAY), Why.NO_BENCH),
    (Place(2, MONDAY), Why.SKILL),
    (Place(1, FRIDAY), Why.NOT_THERE),
    (Place(1, MONDAY), Why.SEQUENCE),
]


@pytest.mark.parametrize(("place", "why"), FIXED_WRONG)
def test_a_fixed_line_that_cannot_be_kept_is_named_with_its_reason(place: Place, why: Why) -> None:
    benches = (bench(1, days=DAYS[:4]), bench(2, skills="chronograph"))
    week = Week(DAYS, benches, (order(1, Task(1, 50, wait_days=1), Task(2, 50, fixed=place)),))
    found = plan_week(week)
    assert [(one.task, one.place, one.why) for one in found.impossible] == [(2, place, why)]
    assert set(found.plan) == {1, 2}  # the work itself is planned elsewhere


def test_of_two_fixed_lines_too_many_for_a_day_the_later_promise_gives_way() -> None:
    there = Place(1, MONDAY)
    orders = (
        order(1, Task(1, 60, fixed=there), promised=FRIDAY),
        order(2, Task(2, 60, fixed=there), promised=WEDNESDAY),
    )
    found = plan_week(Week(DAYS, (bench(1),), orders))
    assert [(one.task, one.why) for one in found.impossible] == [(1, Why.HOURS)]
    assert found.plan[2] == there


def test_a_fixed_line_is_named_when_what_comes_before_it_finds_no_place() -> None:
    full = order(1, Task(1, 100, fixed=Place(1, MONDAY)), promised=MONDAY)
    after = order(2, Task(2, 50), Task(3, 60, fixed=Place(1, TUESDAY)), promised=FRIDAY)
    found = plan_week(Week(DAYS, (bench(1),), (full, after)))
    assert [(one.task, one.why) for one in found.impossible] == [(3, Why.BEFORE)]


def test_a_fixed_line_stays_though_it_makes_the_order_late() -> None:
    week = Week(DAYS, (bench(1),), (order(1, Task(1, 50, fixed=Place(1, FRIDAY)), promised=MONDAY),))
    found = plan_week(week)
    assert found.plan == {1: Place(1, FRIDAY)}
    assert found.cost.days_late == 4


def test_a_week_without_work_has_an_empty_plan() -> None:
    found = plan_week(Week(DAYS, (bench(1),), ()))
    assert found.lines == ()
    assert found.gap == 0


def test_days_that_are_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match="order"):
        Week((TUESDAY, MONDAY), (), ())
    with pytest.raises(ValueError, match="minutes"):
        Task(1, -1)
    with pytest.raises(ValueError, match="key of its own"):
        Week(DAYS, (), (order(1, Task(1, 5)), replace(order(2, Task(1, 5)), key=2)))
