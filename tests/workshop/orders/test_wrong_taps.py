"""A wrong tap taken back, an order handed to another bench, and what is next said truly."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import DatabaseError, transaction
from django.test import Client
from django.utils import timezone
from django.utils.formats import date_format

from service_center.access.models import Staff
from service_center.workshop.models import Absence, OrderOperation, TimeSpent, TimeTakenBack, Watchmaker, WorkOrder
from service_center.workshop.orders.actions import NotOnTheBench, finish_operation, take_back_operation
from service_center.workshop.orders.queries.control import case_opened, unfinished_of
from service_center.workshop.orders.queries.learnt import learnt_times
from service_center.workshop.orders.queries.open_then import NotKnownThenError, open_orders_then
from service_center.workshop.orders.rules.learning import ENOUGH
from service_center.workshop.orders.rules.operations import Operation
from tests.factories import StaffFactory
from tests.workshop.hands import Hands, at
from tests.workshop.orders.test_order_page import do, page, step_of, where

pytestmark = pytest.mark.django_db
Take = Callable[..., WorkOrder]
DAY = date(2026, 3, 9)


@pytest.fixture
def hands(taken_in: Take, watchmaker: Staff) -> Hands:
    return Hands(taken_in(), watchmaker, DAY)


@pytest.fixture
def bench(watchmaker: Staff) -> Client:
    client = Client()
    client.force_login(watchmaker)
    return client


def take_back(hands: Hands, operation: Operation, *, days: int = 0) -> OrderOperation:
    return take_back_operation(hands.order, operation, at=at(DAY + timedelta(days=days), 11), by=hands.by)


def test_a_wrong_tap_is_taken_back_and_its_minutes_count_no_more(bench: Client, hands: Hands) -> None:
    order = hands.to("received", "diagnosed", "on_the_bench")
    hands.finish(Operation.DIAGNOSIS, minutes=450)
    do(bench, order, "take_back", operation="diagnosis")
    assert Operation.DIAGNOSIS in unfinished_of(order)
    assert "450 min" not in page(bench, order)
    hands.finish(Operation.DIAGNOSIS, minutes=45)
    assert "45 min Finished" in page(bench, order)
    assert TimeSpent.objects.count() == 2


def test_what_was_tapped_stays_on_record(hands: Hands) -> None:
    hands.to("received", "diagnosed", "on_the_bench")
    hands.finish(Operation.DIAGNOSIS, minutes=450)
    take_back(hands, Operation.DIAGNOSIS)
    take_back(hands, Operation.DIAGNOSIS)
    assert TimeTakenBack.objects.get().time.minutes == 450
    with pytest.raises(DatabaseError), transaction.atomic():
        TimeTakenBack.objects.all().delete()


def test_an_order_that_went_on_keeps_its_ticks(hands: Hands) -> None:
    hands.to_control()
    with pytest.raises(NotOnTheBench):
        take_back(hands, Operation.ASSEMBLY)
    assert not TimeTakenBack.objects.exists()


def test_a_case_that_was_opened_by_a_wrong_tap_alone_is_closed(hands: Hands) -> None:
    hands.to("received", "diagnosed", "on_the_bench")
    hands.finish(Operation.UNCASING)
    assert case_opened(hands.order)
    take_back(hands, Operation.UNCASING)
    assert not case_opened(hands.order)


def test_minutes_taken_back_are_not_learnt_from(taken_in: Take, watchmaker: Staff) -> None:
    for _ in range(ENOUGH):
        hands = Hands(taken_in(), watchmaker, DAY)
        hands.to("received", "diagnosed", "on_the_bench")
        hands.finish(Operation.DIAGNOSIS, minutes=400)
        take_back(hands, Operation.DIAGNOSIS)
        hands.finish(Operation.DIAGNOSIS, minutes=20)
    [learnt] = learnt_times(DAY).values()
    assert learnt.minutes == pytest.approx(20)


def test_what_was_finished_on_a_day_is_not_known_once_it_was_taken_back_later(hands: Hands) -> None:
    hands.to("received", "diagnosed", "on_the_bench")
    hands.finish(Operation.DIAGNOSIS)
    take_back(hands, Operation.DIAGNOSIS)
    with pytest.raises(NotKnownThenError):
        open_orders_then(DAY)
    [before] = open_orders_then(DAY - timedelta(days=1))
    assert Operation.DIAGNOSIS in [one.operation for one in before.left]


def test_the_queue_takes_the_last_tap_back(bench: Client, hands: Hands) -> None:
    order = hands.to("received", "diagnosed", "on_the_bench")
    hands.finish(Operation.DIAGNOSIS)
    assert "Reception and diagnosis</span><button" in bench.get("/at-the-bench/").content.decode()
    answer = bench.post(f"/at-the-bench/{order.number}/take-back/", {"operation": "diagnosis"}, follow=True)
    assert "is to do again" in answer.content.decode()
    assert Operation.DIAGNOSIS in unfinished_of(order)


def test_an_order_is_laid_onto_another_bench_and_whoever_takes_it_over_stands_first(hands: Hands) -> None:
    order = hands.to("received", "diagnosed", "on_the_bench")
    other, client = StaffFactory(role="watchmaker"), Client()
    client.force_login(other)
    assert f'value="{other.pk}" selected' in client.get(f"/orders/{order.number}/").content.decode()
    do(client, order, "hand_over", to=other.pk)
    order.refresh_from_db()
    assert order.bench == other


def test_an_order_is_handed_to_no_stranger(bench: Client, hands: Hands) -> None:
    order = hands.to("received", "diagnosed", "on_the_bench")
    StaffFactory(role="watchmaker")
    gone = StaffFactory(role="watchmaker", is_active=False)
    assert do(bench, order, "hand_over", to=gone.pk).status_code == 422
    order.refresh_from_db()
    assert order.bench == hands.by


def test_the_page_says_that_the_watchmaker_is_away_on_whose_bench_it_lies(bench: Client, hands: Hands) -> None:
    order, today = hands.to("received", "diagnosed", "on_the_bench"), timezone.localdate()
    maker = Watchmaker.objects.create(name="Mara Lind", account=hands.by, first_day=DAY)
    assert "away until" not in page(bench, order)
    Absence.objects.create(watchmaker=maker, first_day=today, last_day=today + timedelta(days=3), kind="leave")
    assert f"away until {date_format(today + timedelta(days=3), 'j M')}" in page(bench, order)


def test_what_is_next_is_the_next_operation_and_the_control_only_after_the_last(bench: Client, hands: Hands) -> None:
    order = hands.to("received", "diagnosed", "on_the_bench")
    hands.finish(Operation.DIAGNOSIS)
    assert "Next: Uncasing." in page(bench, order)
    do(bench, order, "move", to="under_control")
    assert step_of(order) == "on_the_bench"
    hands.work(but=[Operation.TIGHTNESS_TESTS, Operation.FINAL_CONTROL])
    assert "Next: the control begins" in page(bench, order)
    do(bench, order, "move", to="under_control")
    assert "Next: Tightness tests." in page(bench, order)


def test_under_control_what_is_missing_is_next_until_nothing_is(bench: Client, hands: Hands) -> None:
    hands.to_control()
    order = hands.order
    assert "Next: its rate is read again." in page(bench, order)
    hands.read()
    assert "Next: it is tested for tightness." in page(bench, order)
    hands.test(passes=False)
    assert "Next: back to the bench, since it is not tight." in page(bench, order)
    assert "<details open><summary>The control failed" in bench.get(where(order)).content.decode()
    hands.test()
    assert "Next: nothing is missing any more" in page(bench, order)
    hands.to("ready")
    assert "Next: it goes back to its boutique." in page(bench, order)


def test_a_control_that_failed_sends_the_piece_back_with_what_is_done_once_more(bench: Client, hands: Hands) -> None:
    hands.to_control()
    order = hands.order
    again = {"to": "on_the_bench", "reason": "It leaks at the crown.", "again": ["casing", "tightness_tests"]}
    do(bench, order, "back", **again)
    assert unfinished_of(order) == [Operation.CASING, Operation.TIGHTNESS_TESTS]
    assert "Next: Casing." in page(bench, order)


def test_work_is_done_once_more_at_the_bench_alone(bench: Client, hands: Hands) -> None:
    hands.to_control()
    sent = {"to": "diagnosed", "reason": "More was found.", "again": ["casing"]}
    assert do(bench, hands.order, "back", **sent).status_code == 422
    assert unfinished_of(hands.order) == []


@pytest.mark.parametrize(("minutes", "spent"), [("25", [25]), ("", [])])
def test_whoever_looked_at_the_piece_finishes_the_diagnosis_with_it(
    bench: Client, hands: Hands, minutes: str, spent: list[int]
) -> None:
    order = hands.to("received")
    do(bench, order, "diagnose", asks_owner="no", minutes=minutes, form_key=uuid4())
    assert list(TimeSpent.objects.values_list("minutes", flat=True)) == spent
    assert step_of(order) == "diagnosed"


def test_a_form_that_a_dropped_line_sends_once_more_ticks_nothing_that_was_taken_back(hands: Hands) -> None:
    hands.to("received", "diagnosed", "on_the_bench")
    sent: dict[str, Any] = {"minutes": 20, "at": at(DAY), "by": hands.by, "form_key": uuid4()}
    finish_operation(hands.order, Operation.DIAGNOSIS, **sent)
    take_back(hands, Operation.DIAGNOSIS)
    finish_operation(hands.order, Operation.DIAGNOSIS, **sent)
    assert Operation.DIAGNOSIS in unfinished_of(hands.order)
