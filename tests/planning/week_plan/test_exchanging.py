"""The plan that a large week starts from: what could be late, in the turn that makes it least late."""

from hypothesis import given, settings

from service_center.planning.rules.week_plan.close_schedule import close_together
from service_center.planning.rules.week_plan.cost import cost_of
from service_center.planning.rules.week_plan.exchanging import fewest_days_late
from service_center.planning.rules.week_plan.fixed import sort_out
from service_center.planning.rules.week_plan.list_schedule import earliest_promise_first, in_slack_order, one_by_one
from service_center.planning.rules.week_plan.week import Order, Place, Task, Week, broken_rules
from tests.planning.week_plan.test_planning import bench, order, weeks
from tests.planning.week_plan.weeks import DAYS, MONDAY, realistic


@settings(max_examples=60, deadline=None)
@given(weeks(most_orders=4, fixed=True))
def test_such_a_plan_breaks_no_rule_and_keeps_every_fixed_line_that_can_be_kept(week: Week) -> None:
    fixed = sort_out(week)
    named = {one.task for one in fixed.impossible}
    plan = fewest_days_late(week, fixed.base, bound=0, turns=20)
    assert [one for one in broken_rules(week, plan) if one.rule != "fixed" or one.task not in named] == []
    assert {task: plan.get(task) for task in fixed.kept} == fixed.kept


def test_a_busy_week_is_less_late_than_with_one_order_after_the_other() -> None:
    week = realistic(watchmakers=6, orders=90)
    found = cost_of(week, earliest_promise_first(week, fewest_days_late(week, {}, bound=0, turns=200)))
    assert found.days_late < cost_of(week, earliest_promise_first(week, {})).days_late
    assert found.days_late < cost_of(week, one_by_one(week, in_slack_order(week), {})).days_late


def test_a_late_order_changes_its_turn_until_nothing_is_late() -> None:
    # The long one first leaves no room for both short ones on the day they were promised for.
    long, short, other = order(1, Task(1, 100), promised=DAYS[1]), order(2, Task(2, 50)), order(3, Task(3, 50))
    short, other = (Order(o.key, o.complexity, MONDAY, MONDAY, o.tasks) for o in (short, other))
    week = Week(DAYS, (bench(1),), (long, short, other))
    assert cost_of(week, fewest_days_late(week, {}, bound=0)).days_late == 0


def test_nothing_that_can_be_late_is_an_empty_plan() -> None:
    week = Week(DAYS, (bench(1),), (Order(1, "simple", MONDAY, None, (Task(1, 60),)),))
    assert fewest_days_late(week, {}, bound=0) == {}


def test_what_follows_without_a_wait_is_not_torn_from_an_order_with_no_day_to_spare() -> None:
    # After the fixed hour the first bench has room for the short task alone, the second for both.
    busy = order(1, Task(1, 60, fixed=Place(1, MONDAY)))
    urgent = order(2, Task(2, 20), Task(3, 60), promised=MONDAY)
    week = Week(DAYS, (bench(1), bench(2)), (busy, urgent))
    given = {1: Place(1, MONDAY)}
    assert close_together(week, (urgent,), given) == {**given, 2: Place(2, MONDAY), 3: Place(2, MONDAY)}


def test_the_bench_with_least_room_goes_first() -> None:
    week = Week(DAYS, (bench(1), bench(2)), (order(1, Task(1, 60)), order(2, Task(2, 40)), order(3, Task(3, 100))))
    plan = close_together(week, week.orders, {})
    assert plan == {1: Place(1, MONDAY), 2: Place(1, MONDAY), 3: Place(2, MONDAY)}
