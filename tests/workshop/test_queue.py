"""The bench and reception: one tap, one beep."""

import re
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from service_center.access.models import Staff
from service_center.bench.orders.queue import queue_of, taps
from service_center.book.models import Custody
from service_center.measurements.actions import record_sheet
from service_center.measurements.models import TimingSheet
from service_center.measurements.rules import Reading, Wind
from service_center.workshop.models import OrderMove, OrderOperation, TimeSpent, WorkOrder
from tests.workshop.hands import Hands

pytestmark = pytest.mark.django_db
Take = Callable[..., WorkOrder]


@pytest.fixture
def bench(watchmaker: Staff) -> Client:
    client = Client()
    client.force_login(watchmaker)
    return client


def hands(order: WorkOrder, by: Staff) -> Hands:
    return Hands(order, by, timezone.localdate() - timedelta(days=3))


def words(client: Client, where: str = "/at-the-bench/") -> str:
    return " ".join(client.get(where).content.decode().split())


def test_a_tap_finishes_the_next_operation_with_its_minutes_and_a_second_tap_changes_nothing(
    bench: Client,
    taken_in: Take,
    watchmaker: Staff,
) -> None:
    order = taken_in()
    hands(order, watchmaker).to("received", "diagnosed", "on_the_bench")
    sent = {"operation": "diagnosis", "minutes": "20", "form_key": str(uuid4())}
    for _ in range(2):
        bench.post(f"/at-the-bench/{order.number}/finish/", sent)
    assert list(TimeSpent.objects.values_list("operation__operation", "minutes")) == [("diagnosis", 20)]


@pytest.mark.parametrize("minutes", ["0", "1441", "soon", ""])
def test_minutes_that_are_none_are_refused_in_words(
    bench: Client,
    taken_in: Take,
    watchmaker: Staff,
    minutes: str,
) -> None:
    order = taken_in()
    hands(order, watchmaker).to("received", "diagnosed", "on_the_bench")
    sent = {"operation": "diagnosis", "minutes": minutes, "form_key": str(uuid4())}
    page = bench.post(f"/at-the-bench/{order.number}/finish/", sent, follow=True).content.decode()
    assert "1 to 1440" in page
    assert not TimeSpent.objects.exists()


def test_the_next_order_is_taken_to_ones_own_bench(bench: Client, taken_in: Take, watchmaker: Staff) -> None:
    order = taken_in()
    hands(order, watchmaker).to("received", "diagnosed", asks=False)
    assert "Next to take" in words(bench)
    bench.post(f"/at-the-bench/{order.number}/take/")
    order.refresh_from_db()
    assert (order.step, order.bench) == ("on_the_bench", watchmaker)


def test_what_another_has_on_their_bench_is_not_in_ones_queue(
    taken_in: Take,
    watchmaker: Staff,
    signed_in: Callable[..., Client],
) -> None:
    hands(taken_in(), watchmaker).to("received", "diagnosed", "on_the_bench")
    assert "R-000001" not in words(signed_in("watchmaker"))


def test_the_earliest_promise_comes_first_and_a_resting_piece_is_out_of_the_way(
    taken_in: Take,
    watchmaker: Staff,
) -> None:
    late, early, resting = taken_in(), taken_in(), taken_in()
    WorkOrder.objects.filter(pk=early.pk).update(promised_on=timezone.localdate())
    for order in (late, early, resting):
        hands(order, watchmaker).to("received", "diagnosed", "on_the_bench")
    now = timezone.now()
    OrderOperation.objects.filter(order=resting, operation="assembly").update(
        finished_at=now - timedelta(hours=2), finished_by=watchmaker
    )
    queue = queue_of(watchmaker, skills=None, now=now)
    assert [card.order.number for card in queue.on_bench] == [late.number, early.number]
    assert [card.until for card in queue.resting] == [now + timedelta(hours=22)]


def test_what_the_weeks_plan_gives_comes_before_the_earlier_promise(taken_in: Take, watchmaker: Staff) -> None:
    early, planned = taken_in(), taken_in()
    WorkOrder.objects.filter(pk=early.pk).update(promised_on=timezone.localdate())
    for order in (early, planned):
        hands(order, watchmaker).to("received", "diagnosed", asks=False)
    day = timezone.localdate()
    found = queue_of(watchmaker, skills=frozenset(), now=timezone.now(), planned={planned.number: day})
    assert [(card.order.number, card.planned_for) for card in found.to_take] == [(planned.number, day)]
    found = queue_of(watchmaker, skills=None, now=timezone.now(), planned={planned.number: day})
    assert [card.order.number for card in found.to_take] == [planned.number, early.number]


def test_a_watchmaker_is_offered_what_they_may_do(taken_in: Take, watchmaker: Staff) -> None:
    hands(taken_in(), watchmaker).to("received", "diagnosed", asks=False)
    now = timezone.now()
    assert queue_of(watchmaker, skills=frozenset({"chronograph"}), now=now).to_take == []
    assert len(queue_of(watchmaker, skills=frozenset({"automatic"}), now=now).to_take) == 1


def test_what_was_laid_onto_a_bench_is_there_whatever_its_watchmaker_may_do(taken_in: Take, watchmaker: Staff) -> None:
    hands(taken_in(), watchmaker).to("received", "diagnosed", "on_the_bench")
    found = queue_of(watchmaker, skills=frozenset({"chronograph"}), now=timezone.now())
    assert len(found.on_bench) == 1


def test_a_piece_that_is_not_ready_stays_and_says_what_it_lacks(
    bench: Client,
    taken_in: Take,
    watchmaker: Staff,
) -> None:
    order = taken_in()
    hand = hands(order, watchmaker)
    hand.to_control()
    page = bench.post(f"/at-the-bench/{order.number}/move/", {"to": "ready"}, follow=True).content.decode()
    assert "no readings since the work began" in page
    order.refresh_from_db()
    assert order.step == "under_control"


def test_figures_outside_their_limits_are_named_with_the_way_to_let_the_piece_go(
    bench: Client, taken_in: Take, watchmaker: Staff
) -> None:
    order = taken_in()
    hand = hands(order, watchmaker)
    hand.to_control()
    tired = [Reading(at, Wind.FULL, Decimal(-40), Decimal(290), Decimal("0.2")) for at in ("CH", "CB", "6H")]
    record_sheet(order.piece, tired, taken_on=hand.on, by=watchmaker)
    hand.test()
    page = bench.post(f"/at-the-bench/{order.number}/move/", {"to": "ready"}, follow=True).content.decode()
    assert "Mean rate lies outside its limits" in page
    assert "lets it go with your reason" in page


def test_the_queue_costs_four_statements_however_long_it_is(
    taken_in: Take,
    watchmaker: Staff,
    django_assert_num_queries: Any,
) -> None:
    for _ in range(3):
        hands(taken_in(), watchmaker).to("received", "diagnosed", asks=False)
    with django_assert_num_queries(4):
        queue_of(watchmaker, skills=None, now=timezone.now())


def test_of_a_long_list_that_the_house_shares_the_earliest_promises_stand_here_and_the_rest_is_counted(
    taken_in: Take, watchmaker: Staff, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("service_center.bench.orders.queue.MORE_SHOWN", 2)
    today = timezone.localdate()
    for days in (9, 3, 6):
        order = hands(taken_in(), watchmaker).to("received")
        WorkOrder.objects.filter(pk=order.pk).update(promised_on=today + timedelta(days=days))
    found = queue_of(watchmaker, skills=None, now=timezone.now())
    assert [(card.order.promised_on or today) - today for card in found.to_look_at] == [
        timedelta(days=3),
        timedelta(days=6),
    ]
    assert found.more_to_look_at == 1
    assert found.more_under_control == 0


def test_every_tap_is_a_whole_number_of_fives_around_the_plan() -> None:
    assert taps(20) == (10, 15, 20, 25, 30, 40)
    assert taps(110) == (55, 80, 110, 140, 165, 220)
    assert taps(2) == (2, 5)


def test_a_box_is_taken_in_by_scanning_labels_numbers_or_serials(bench: Client, taken_in: Take) -> None:
    first, second = taken_in(), taken_in()
    bench.post("/reception/", {"codes": first.number})
    bench.post("/reception/", {"codes": second.piece.serial})
    assert set(WorkOrder.objects.values_list("step", flat=True)) == {"received"}
    assert Custody.objects.filter(place="workshop").count() == 2


def test_a_label_scanned_twice_is_received_once_and_says_so(bench: Client, taken_in: Take) -> None:
    order = taken_in()
    bench.post("/reception/", {"codes": order.number})
    page = bench.post("/reception/", {"codes": order.number}, follow=True).content.decode()
    assert "nothing to do" in page
    assert OrderMove.objects.filter(step="received").count() == 1


def test_a_piece_that_nobody_logged_is_put_aside(bench: Client, taken_in: Take) -> None:
    order = taken_in()
    serial = order.piece.serial
    hand = hands(order, order.opened_by)  # type: ignore[arg-type]
    hand.to("received", "diagnosed", asks=True)
    assert "no order and no serial" in bench.post("/reception/", {"codes": "XX-77"}, follow=True).content.decode()
    WorkOrder.objects.filter(pk=order.pk).update(step="handed_back", closed_on=timezone.localdate())
    assert "nobody logged it" in bench.post("/reception/", {"codes": serial}, follow=True).content.decode()


def test_readings_are_typed_one_position_after_the_other_and_kept_as_one_sheet(
    bench: Client,
    taken_in: Take,
    watchmaker: Staff,
) -> None:
    order = taken_in()
    hands(order, watchmaker).to("received", "diagnosed", "on_the_bench")
    where = f"/at-the-bench/{order.number}/readings/"
    key = str(uuid4())
    base = {"form_key": key, "taken_on": timezone.localdate().isoformat(), "beat_error_is": "half"}
    first = {"at": "0", "to": "1", "full-CH-rate": "+4", "full-CH-amplitude": "290", "full-CH-beat_error": "0.2"}
    page = bench.post(where, base | first).content.decode()
    assert 'name="full-CH-rate" value="+4"' in page
    assert "2 of 6" in page
    second = {"at": "1", "to": "keep", "full-CB-rate": "2", "full-CB-amplitude": "285", "full-CB-beat_error": "0.2"}
    bench.post(where, base | first | second)
    sheet = TimingSheet.objects.get()
    assert sorted(sheet.readings.values_list("position", flat=True)) == ["CB", "CH"]


def test_what_the_page_of_one_position_carries_along_is_kept_with_the_last_tap(
    bench: Client,
    taken_in: Take,
    watchmaker: Staff,
) -> None:
    order = taken_in()
    hands(order, watchmaker).to("received", "diagnosed", "on_the_bench")
    where = f"/at-the-bench/{order.number}/readings/"
    carried = dict(
        re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', bench.get(where).content.decode())
    )
    assert "taken_on" in carried
    bench.post(where, carried | {"to": "keep", "full-CH-rate": "4"})
    assert TimingSheet.objects.get().taken_on == timezone.localdate()


def test_an_impossible_reading_is_refused_at_its_position_and_stays_typed(
    bench: Client,
    taken_in: Take,
    watchmaker: Staff,
) -> None:
    order = taken_in()
    hands(order, watchmaker).to("received", "diagnosed", "on_the_bench")
    sent = {
        "form_key": str(uuid4()), "taken_on": timezone.localdate().isoformat(), "beat_error_is": "half",
        "at": "0", "to": "1", "full-CH-amplitude": "400",
    }  # fmt: skip
    answer = bench.post(f"/at-the-bench/{order.number}/readings/", sent)
    assert answer.status_code == 422
    assert 'value="400"' in answer.content.decode()
    assert "1 of 6" in answer.content.decode()
