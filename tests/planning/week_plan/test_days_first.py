"""The plan that a large week starts from: what could be late, day by day."""

from hypothesis import given, settings

from service_center.planning.rules.week_plan.cost import cost_of
from service_center.planning.rules.week_plan.days_first import days_first
from service_center.planning.rules.week_plan.fixed import sort_out
from service_center.planning.rules.week_plan.list_schedule import earliest_promise_first
from service_center.planning.rules.week_plan.week import Order, Task, Week, broken_rules
from tests.planning.week_plan.test_planning import bench, weeks
from tests.planning.week_plan.weeks import DAYS, MONDAY, realistic


@settings(max_examples=60, deadline=None)
@given(weeks(most_orders=4, fixed=True))
def test_such_a_plan_breaks_no_rule_and_keeps_every_fixed_line_that_can_be_kept(week: Week) -> None:
    fixed = sort_out(week)
    named = {one.task for one in fixed.impossible}
    for plan in days_first(week, fixed.kept):
        assert [one for one in broken_rules(week, plan) if one.rule != "fixed" or one.task not in named] == []
        assert {task: plan.get(task) for task in fixed.kept} == fixed.kept


def test_a_busy_week_is_less_late_than_with_one_order_after_the_other() -> None:
    week = realistic(watchmakers=6, orders=90)
    found = [cost_of(week, earliest_promise_first(week, plan)).days_late for plan in days_first(week, {})]
    assert min(found) < cost_of(week, earliest_promise_first(week, {})).days_late


def test_nothing_that_can_be_late_is_an_empty_plan() -> None:
    week = Week(DAYS, (bench(1),), (Order(1, "simple", MONDAY, None, (Task(1, 60),)),))
    assert all(plan == {} for plan in days_first(week, {}))
