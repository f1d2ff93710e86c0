"""A promise from the book: benches by their calendars or by skills.csv, orders with what is left of them."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from unittest.mock import patch
from uuid import uuid4

import pytest
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext

from service_center.book.rules import Complexity, EntryKind
from service_center.planning.models import SkillHours
from service_center.planning.queries import promising
from service_center.planning.queries.promising import NoQuote, house_on, quote_on
from service_center.planning.rules.promising.values import Quote, Turn
from service_center.workshop.calendars.models import Absence, Watchmaker, WorkshopClosure
from service_center.workshop.models import OrderOperation, TimeSpent, WorkOrder
from tests.factories import StaffFactory
from tests.planning.promising.house import MONDAY

TakenIn = Callable[..., WorkOrder]
Employ = Callable[..., Watchmaker]
USUAL = date(2026, 4, 6)
WEDNESDAY, NEXT_MONDAY = date(2026, 3, 4), date(2026, 3, 9)


@pytest.fixture(autouse=True)
def nothing_kept() -> None:
    cache.clear()


def asked(kind: EntryKind, complexity: Complexity = Complexity.AUTOMATIC, usual_day: date = USUAL) -> Quote | NoQuote:
    return quote_on(house_on(MONDAY), kind, complexity, rated=True, usual_day=usual_day)


def days(kind: EntryKind, **fields: date) -> tuple[date | None, date | None, int]:
    found = asked(kind, **fields)
    assert isinstance(found, Quote)
    return found.half_by, found.nine_in_ten_by, found.orders_before


def test_a_check_in_an_empty_house_goes_there_is_tested_and_comes_back(employ: Employ) -> None:
    employ()
    # There on Tuesday, tested by half past eight, back a day later.
    assert days(EntryKind.TIGHTNESS_CHECK) == (WEDNESDAY, WEDNESDAY, 0)


def test_an_overhaul_in_an_empty_house_takes_its_minutes_and_its_waits(employ: Employ) -> None:
    employ()
    # Tuesday till 11:15; oil settles for a day; Wednesday till 13:10; 12 hours; Thursday till 8:20; three days; a day back.
    assert days(EntryKind.OVERHAUL) == (NEXT_MONDAY, NEXT_MONDAY, 0)


def test_without_watchmakers_the_hours_of_skills_csv_count(db: None) -> None:
    SkillHours.objects.create(skill="automatic", hours_a_week=40)
    assert days(EntryKind.OVERHAUL) == (NEXT_MONDAY, NEXT_MONDAY, 0)
    assert asked(EntryKind.OVERHAUL, Complexity.CHRONOGRAPH) is NoQuote.NO_SKILL


def test_absences_and_closures_move_it(employ: Employ) -> None:
    nora = employ()
    Absence.objects.create(watchmaker=nora, kind="leave", first_day=date(2026, 3, 3), last_day=date(2026, 3, 4))
    assert days(EntryKind.TIGHTNESS_CHECK)[1] == date(2026, 3, 6)
    WorkshopClosure.objects.create(first_day=date(2026, 3, 5), last_day=date(2026, 3, 6), reason="moving house")
    assert days(EntryKind.TIGHTNESS_CHECK)[1] == date(2026, 3, 10)


def test_closures_hold_for_hours_of_skills_csv_too(db: None) -> None:
    SkillHours.objects.create(skill="automatic", hours_a_week=40)
    WorkshopClosure.objects.create(first_day=date(2026, 3, 3), last_day=date(2026, 3, 6), reason="moving house")
    assert days(EntryKind.TIGHTNESS_CHECK)[1] == date(2026, 3, 10)


def test_orders_in_the_house_come_first(employ: Employ, taken_in: TakenIn) -> None:
    employ()
    for _ in range(20):
        taken_in("overhaul", promised_on=date(2026, 3, 20))
    half, nine, before = days(EntryKind.OVERHAUL)
    assert before == 20
    assert half and nine
    # Twenty overhauls of 5.5 hours are 110 hours, nearly three weeks.
    assert date(2026, 3, 23) <= half <= nine <= date(2026, 4, 3)
    # A cell is changed on the way, as the house usually promises it.
    assert days(EntryKind.BATTERY, usual_day=date(2026, 3, 5))[2] == 0


def test_no_order_overtakes_another_of_its_kind(employ: Employ, taken_in: TakenIn) -> None:
    employ()
    taken_in("overhaul", promised_on=date(2026, 6, 1))
    assert days(EntryKind.OVERHAUL)[2] == 1


def test_what_is_finished_takes_no_bench_and_what_rests_waits(employ: Employ, taken_in: TakenIn) -> None:
    employ()
    order = taken_in("overhaul")
    done = datetime(2026, 3, 2, 10, tzinfo=UTC)
    at_the_end = ["tightness_tests", "final_control"]
    OrderOperation.objects.filter(order=order).exclude(operation__in=at_the_end).update(finished_at=done)
    OrderOperation.objects.filter(order=order, operation="tightness_tests").update(
        finished_at=done + timedelta(hours=2)
    )
    WorkOrder.objects.filter(pk=order.pk).update(step="under_control")
    (one,) = house_on(MONDAY).orders
    assert one.turns == (Turn(20, 6, 72),)
    assert one.free_after == 24  # ten, two more, and twelve hours of rest


def test_an_order_that_waits_for_its_owner_waits_some_days(employ: Employ, taken_in: TakenIn) -> None:
    employ()
    order = taken_in("repair")
    assert house_on(MONDAY).orders[0].free_after == 24  # on its way
    WorkOrder.objects.filter(pk=order.pk).update(step="estimated")
    assert house_on(MONDAY).orders[0].free_after == 5 * 24


def test_a_strap_and_what_is_ready_see_no_bench(employ: Employ, taken_in: TakenIn) -> None:
    employ()
    taken_in("strap")
    ready = taken_in("overhaul")
    WorkOrder.objects.filter(pk=ready.pk).update(step="ready", ready_on=MONDAY)
    assert house_on(MONDAY).orders == ()
    assert asked(EntryKind.STRAP) is NoQuote.AT_THE_COUNTER


def test_a_house_without_benches_says_so(db: None) -> None:
    assert asked(EntryKind.OVERHAUL) is NoQuote.NO_BENCHES


def test_a_house_that_is_full_for_years_says_so(employ: Employ, taken_in: TakenIn) -> None:
    employ(minutes=[1, 0, 0, 0, 0, 0, 0])
    taken_in("overhaul", promised_on=date(2026, 3, 20))
    assert asked(EntryKind.OVERHAUL) is NoQuote.TOO_FAR


def test_statements_do_not_grow_with_the_orders(employ: Employ, taken_in: TakenIn) -> None:
    employ()
    SkillHours.objects.create(skill="automatic", hours_a_week=40)
    counts = []
    for _ in range(2):
        taken_in("overhaul")
        taken_in("battery")
        with CaptureQueriesContext(
            connection,
        ) as made:
            house_on(MONDAY)
        counts.append(len(made))
    assert counts[0] == counts[1] <= 18


def test_the_same_book_is_not_worked_out_twice_and_a_changed_one_is(employ: Employ, taken_in: TakenIn) -> None:
    employ()
    with patch.object(promising, "quote", wraps=promising.quote) as worked_out:
        first = asked(EntryKind.OVERHAUL)
        assert asked(EntryKind.OVERHAUL) == first
        assert worked_out.call_count == 1
        taken_in("overhaul")
        assert asked(EntryKind.OVERHAUL) != first
        assert worked_out.call_count == 2


def test_minutes_learnt_up_to_yesterday_stand_before_the_planned_ones(employ: Employ, taken_in: TakenIn) -> None:
    employ()
    by = StaffFactory()
    for number in range(6):
        order = taken_in("tightness_check")
        done = datetime(2026, 3, 1 if number < 5 else 2, 10, tzinfo=UTC)
        test = order.operations.get()
        TimeSpent.objects.create(form_key=uuid4(), operation=test, minutes=50 + number, by=by, at=done)
        OrderOperation.objects.filter(pk=test.pk).update(finished_at=done)
        WorkOrder.objects.filter(pk=order.pk).update(closed_on=MONDAY, step="handed_back")
    taken_in("tightness_check")
    (one,) = house_on(MONDAY).orders
    assert one.turns[0].minutes == 52  # of 50 to 54; today's 55 is not among them
