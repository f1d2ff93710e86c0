"""A promise for a day that is over: the house as its facts say it stood then, and no word where they do not say it."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext

from service_center.access.models import Staff
from service_center.book.rules import Complexity, EntryKind
from service_center.planning.queries.promising import house_on, house_then
from service_center.workshop.calendars.models import Watchmaker
from service_center.workshop.models import WorkOrder
from service_center.workshop.orders.actions import add_operation, change_kind, leave_out_operation
from service_center.workshop.orders.queries.open_orders import OpenOrder, open_orders, own_times
from service_center.workshop.orders.queries.open_then import NotKnownThenError, open_orders_then, own_times_then
from service_center.workshop.orders.rules.operations import Operation, Time
from service_center.workshop.orders.rules.steps import Step
from service_center.workshop.times.actions import keep_time
from tests.factories import StaffFactory
from tests.planning.promising.house import MONDAY
from tests.workshop.hands import Hands, bring_through

TakenIn = Callable[..., WorkOrder]
Employ = Callable[..., Watchmaker]
CAME = MONDAY - timedelta(days=7)
TUESDAY, THURSDAY = MONDAY - timedelta(days=6), MONDAY - timedelta(days=4)


@pytest.fixture(autouse=True)
def nothing_kept() -> None:
    cache.clear()


@pytest.fixture
def by(db: None) -> Staff:
    return StaffFactory(role="watchmaker")


def kept(found: list[OpenOrder]) -> list[OpenOrder]:
    """Without the bench, which no promise asks for and no fact dates."""
    return [replace(one, bench=None) for one in found]


def test_each_evening_is_told_later_as_it_was_told_then(taken_in: TakenIn, by: Staff) -> None:
    orders = [taken_in("overhaul", promised_on=MONDAY), taken_in("repair"), taken_in("tightness_check")]
    told = {CAME: kept(open_orders())}
    for day, work in (
        (TUESDAY, lambda: Hands(orders[0], by, TUESDAY).to("received", "diagnosed", asks=False)),
        (THURSDAY, lambda: Hands(orders[0], by, THURSDAY).to("on_the_bench")),
        (MONDAY, lambda: Hands(orders[0], by, MONDAY).work(but=[Operation.FINAL_CONTROL])),
    ):
        with time_machine.travel(datetime(day.year, day.month, day.day, 18, tzinfo=UTC)):
            work()
        told[day] = kept(open_orders())
    for day, then in told.items():
        assert kept(open_orders_then(day)) == then, day


def test_an_order_that_went_home_since_was_in_the_house_then(taken_in: TakenIn, by: Staff) -> None:
    order = taken_in("overhaul")
    with time_machine.travel(datetime(2026, 3, 2, 18, tzinfo=UTC)):
        bring_through(order.piece, MONDAY, by=by)
    assert open_orders() == []
    [then] = open_orders_then(THURSDAY)
    assert (then.number, then.step, then.finished_at) == (order.number, Step.LOGGED, None)
    assert len(then.left) == order.operations.count()
    assert open_orders_then(MONDAY) == []
    assert open_orders_then(CAME - timedelta(days=1)) == []


def test_the_houses_table_is_that_of_the_day(by: Staff) -> None:
    key = (EntryKind.OVERHAUL, Complexity.AUTOMATIC, Operation.ASSEMBLY)
    for day, minutes in ((TUESDAY, 100), (THURSDAY, 140)):
        with time_machine.travel(datetime(day.year, day.month, day.day, 18, tzinfo=UTC)):
            keep_time(*key, Time(minutes, 24), by=by)
    assert own_times_then(CAME) == {}
    assert own_times_then(TUESDAY) == {key: Time(100, 24)}
    assert own_times_then(THURSDAY) == own_times() == {key: Time(140, 24)}


def test_an_operation_found_needless_later_was_still_to_do(taken_in: TakenIn, by: Staff) -> None:
    order = taken_in("overhaul")
    with time_machine.travel(datetime(2026, 2, 26, 18, tzinfo=UTC)):
        leave_out_operation(order, Operation.REFINISHING, why="a light polish only", by=by)
    before, after = ({one.operation for one in open_orders_then(day)[0].left} for day in (TUESDAY, THURSDAY))
    assert before - after == {Operation.REFINISHING}


@pytest.mark.parametrize("deed", ["another kind", "an operation more"])
def test_an_order_that_was_planned_anew_later_is_named_and_nothing_is_made_up(
    deed: str, taken_in: TakenIn, by: Staff
) -> None:
    order = taken_in("tightness_check")
    with time_machine.travel(datetime(2026, 2, 26, 18, tzinfo=UTC)):
        if deed == "another kind":
            change_kind(order, EntryKind.REPAIR, why="the crown is bent", by=by)
        else:
            add_operation(order, Operation.CASING, Time(20), why="the case is to be opened", by=by)
    with pytest.raises(NotKnownThenError) as refused:
        open_orders_then(TUESDAY)
    assert refused.value.orders == [order.number]
    assert [one.number for one in open_orders_then(THURSDAY)] == [order.number]


def test_the_house_of_a_day_that_is_over_has_that_day_s_orders(employ: Employ, taken_in: TakenIn, by: Staff) -> None:
    employ()
    first, second = taken_in("overhaul"), taken_in("overhaul")
    with time_machine.travel(datetime(2026, 3, 2, 18, tzinfo=UTC)):
        bring_through(first.piece, MONDAY, by=by)
    assert {one.key for one in house_then(THURSDAY).orders} == {first.pk, second.pk}
    assert {one.key for one in house_then(MONDAY).orders} == {second.pk}
    assert house_then(MONDAY).mark() == house_on(MONDAY).mark()


def test_more_orders_of_a_day_that_is_over_cost_no_more_statements(taken_in: TakenIn) -> None:
    counts = []
    for number in (1, 6):
        for _ in range(number):
            taken_in("overhaul")
        with CaptureQueriesContext(connection) as ran:
            open_orders_then(date(2026, 3, 1))
        counts.append(len(ran))
    assert counts == [4, 4]
