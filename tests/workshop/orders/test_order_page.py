"""The page of an order: what it shows, what each role does on it, and what it says when something is refused."""

import html
import re
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format

from service_center.access.models import Staff
from service_center.book.models import HistoryEntry
from service_center.workshop.models import (
    EstimateAnswer,
    OrderEstimate,
    OrderFinding,
    OrderMove,
    OrderOperation,
    Part,
    TimeSpent,
    WorkOrder,
)
from service_center.workshop.parts.actions import use_part
from tests.factories import StaffFactory
from tests.workshop.hands import Hands

pytestmark = pytest.mark.django_db
Take = Callable[..., WorkOrder]
DAY = date(2026, 3, 9)
VALID = timezone.localdate() + timedelta(days=20)


@pytest.fixture
def order(taken_in: Take) -> WorkOrder:
    return taken_in()


@pytest.fixture
def hands(order: WorkOrder, watchmaker: Staff) -> Hands:
    return Hands(order, watchmaker, DAY)


@pytest.fixture
def bench(watchmaker: Staff) -> Client:
    client = Client()
    client.force_login(watchmaker)
    return client


@pytest.fixture
def counter(order: WorkOrder) -> Client:
    client = Client()
    client.force_login(StaffFactory(role="boutique", boutique=order.boutique.code))
    return client


def where(order: WorkOrder) -> str:
    return f"/orders/{order.number}/"


def words(content: bytes) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", content.decode())).split())


def page(client: Client, order: WorkOrder) -> str:
    answer = client.get(where(order))
    assert answer.status_code == 200
    return words(answer.content)


def do(client: Client, order: WorkOrder, deed: str, **fields: Any) -> Any:
    return client.post(where(order), {"deed": deed} | {f"{deed}-{name}": value for name, value in fields.items()})


def step_of(order: WorkOrder) -> str:
    return WorkOrder.objects.values_list("step", flat=True).get(pk=order.pk)


def test_the_page_says_where_it_is_what_was_promised_and_what_is_next(bench: Client, order: WorkOrder) -> None:
    text = page(bench, order)
    assert "At the boutique · was promised for 2 Apr 2026" in text
    assert "Next: the workshop receives it." in text
    assert "Assembly and lubrication 110 min" in text


@pytest.mark.parametrize(("made_on", "warned"), [(date(1958, 4, 1), True), (None, True), (date(2020, 4, 1), False)])
def test_a_piece_old_enough_for_radium_is_warned_of_and_so_is_one_of_unknown_age(
    bench: Client, taken_in: Take, made_on: date | None, warned: bool
) -> None:
    text = page(bench, taken_in(made_on=made_on))
    assert ("may carry radium or tritium" in text, "licensed practice come first" in text) == (warned, warned)


def test_a_button_takes_the_order_on_and_a_second_tap_changes_nothing(bench: Client, order: WorkOrder) -> None:
    for _ in range(2):
        do(bench, order, "move", to="received")
    assert OrderMove.objects.filter(step="received").count() == 1
    assert step_of(order) == "received"


def test_whoever_looked_at_the_piece_says_whether_the_owner_is_asked(bench: Client, hands: Hands) -> None:
    order = hands.to("received")
    assert do(bench, order, "diagnose").status_code == 422
    do(bench, order, "diagnose", asks_owner="yes")
    assert "Next: the estimate is written, and the owner is asked." in page(bench, order)


@pytest.mark.parametrize(
    ("signed", "covered", "suggested"), [("480", None, "no"), ("480", "wear", "yes"), (None, None, "yes")]
)
def test_an_owner_who_signed_for_the_whole_is_not_asked_again_unless_more_was_found(
    bench: Client, hands: Hands, signed: str | None, covered: str | None, suggested: str
) -> None:
    order = hands.to("received")
    WorkOrder.objects.filter(pk=order.pk).update(agreed_total=signed, agreed_currency="GBP" if signed else "")
    if covered:
        do(bench, order, "finding", finding=covered, what="Crown worn", form_key=uuid4())
    shown = bench.get(where(order)).content.decode()
    [checked] = re.findall(r'name="diagnose-asks_owner"[^>]*value="(\w+)"[^>]*checked', shown)
    assert checked == suggested


def test_a_refused_move_says_why_beside_its_button_and_keeps_what_was_typed(bench: Client, hands: Hands) -> None:
    hands.to("received", "diagnosed", "on_the_bench")
    hands.work()
    order = hands.to("under_control")
    answer = do(bench, order, "move", to="ready", reason="The owner wants it today.")
    assert answer.status_code == 409
    assert "Not done. Not ready: no readings since the work began" in words(answer.content)
    assert "The owner wants it today." in words(answer.content)
    assert step_of(order) == "under_control"


def test_a_move_from_a_page_that_is_out_of_date_is_refused_in_words(bench: Client, hands: Hands) -> None:
    order = hands.to("received", "diagnosed", "on_the_bench")
    answer = do(bench, order, "diagnose", asks_owner="no")
    assert answer.status_code == 302
    assert "The order has gone on since you saw it" in page(bench, order)
    assert step_of(order) == "on_the_bench"


def test_back_needs_a_reason_which_is_kept(bench: Client, hands: Hands) -> None:
    order = hands.to("received", "diagnosed", "on_the_bench")
    assert do(bench, order, "back", to="diagnosed", reason=" ").status_code == 422
    do(bench, order, "back", to="diagnosed", reason="The train is worn: more than was asked.")
    assert step_of(order) == "diagnosed"
    assert "The train is worn: more than was asked." in page(bench, order)


def test_a_finding_says_at_once_who_pays_and_is_kept_once(bench: Client, hands: Hands) -> None:
    order, key = hands.to("received"), uuid4()
    for _ in range(2):
        do(bench, order, "finding", finding="accident", what="Dented lug", form_key=key)
    assert OrderFinding.objects.count() == 1
    assert "A fall, a blow or misuse The owner pays Dented lug" in page(bench, order)


def test_an_operation_is_finished_left_out_and_added(bench: Client, hands: Hands) -> None:
    order = hands.to("received", "diagnosed", "on_the_bench")
    do(bench, order, "finish", operation="uncasing", minutes="12", form_key=uuid4())
    do(bench, order, "leave_out", operation="refinishing", why="The owner likes its marks.")
    do(bench, order, "add", operation="strap", minutes="15", why="The strap is torn.")
    assert list(TimeSpent.objects.values_list("minutes", flat=True)) == [12]
    assert OrderOperation.objects.get(operation="refinishing").unneeded == "The owner likes its marks."
    assert OrderOperation.objects.get(operation="strap").minutes == 15


def test_minutes_that_are_none_are_refused_and_the_rest_stands_there_still(bench: Client, hands: Hands) -> None:
    order = hands.to("received", "diagnosed", "on_the_bench")
    answer = do(bench, order, "add", operation="strap", why="The strap is torn.")
    assert answer.status_code == 422
    assert "say how many" in words(answer.content)
    assert "The strap is torn." in answer.content.decode()


def test_an_order_becomes_another_kind_with_a_reason(bench: Client, hands: Hands) -> None:
    order = hands.to("received")
    do(bench, order, "kind", kind="repair", why="One part only.")
    assert WorkOrder.objects.get().kind == "repair"


def test_the_counter_does_not_do_what_is_the_workshops(counter: Client, hands: Hands) -> None:
    order = hands.to("received")
    assert do(counter, order, "diagnose", asks_owner="no").status_code == 403
    assert "The workshop does that" in page(counter, order)
    assert step_of(order) == "received"


def test_the_counter_changes_a_strap_whole(counter: Client, taken_in: Take) -> None:
    strap = taken_in("strap")
    client = Client()
    client.force_login(StaffFactory(role="boutique", boutique=strap.boutique.code))
    do(client, strap, "finish", operation="strap", minutes="15", form_key=uuid4())
    do(client, strap, "move", to="ready")
    do(client, strap, "hand_back", note="")
    assert step_of(strap) == "handed_back"


def ready(hands: Hands) -> WorkOrder:
    hands.to_control()
    hands.read()
    hands.test()
    return hands.to("ready")


def test_the_counter_hands_a_ready_piece_back_twice_is_once(counter: Client, hands: Hands) -> None:
    order = ready(hands)
    do(counter, order, "bring")
    for _ in range(2):
        do(counter, order, "hand_back", note="With the old gasket.")
    order.piece.refresh_from_db()
    assert (step_of(order), order.piece.place) == ("handed_back", "owner")
    assert list(HistoryEntry.objects.filter(kind="overhaul").values_list("kind", "note")) == [
        ("overhaul", "With the old gasket.")
    ]


def test_readings_out_of_limits_alone_are_let_go_with_a_reason(bench: Client, hands: Hands) -> None:
    hands.to_control()
    hands.test()
    order = hands.order
    text = page(bench, order)
    assert "Before it is ready: no readings since the work began" in text
    assert "Why it is ready all the same" not in text


def estimate_fields(**fields: Any) -> dict[str, Any]:
    lines = {"line-0-what": "Overhaul", "line-0-price": "480", "line-0-because": ""}
    head = {"form_key": str(uuid4()), "currency": "GBP", "valid_until": VALID.isoformat(), "note": ""}
    return head | lines | fields


def test_an_estimate_begins_with_what_is_known_and_is_written_once(bench: Client, hands: Hands) -> None:
    order = hands.to("received")
    do(bench, order, "finding", finding="manufacture", what="Hairspring out of true", form_key=uuid4())
    do(bench, order, "diagnose", asks_owner="yes")
    begun = bench.get(f"{where(order)}estimate/").content.decode()
    assert 'value="Hairspring out of true"' in begun
    fields = estimate_fields(**{"line-1-what": "Hairspring", "line-1-covered": "on", "line-1-because": "Our fault"})
    for _ in range(2):
        assert bench.post(f"{where(order)}estimate/", fields).status_code == 302
    estimate = OrderEstimate.objects.get()
    assert (str(estimate.total), estimate.currency, step_of(order)) == ("480.00", "GBP", "estimated")
    text = page(bench, order)
    assert f"Waits for the owner valid until {date_format(VALID, 'j M Y')}" in text
    assert "Hairspring Our fault £0.00 Covered" in text
    paper = bench.get(f"{where(order)}estimates/{estimate.pk}/")
    assert paper["Content-Type"] == "application/pdf"


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"line-0-price": "a lot"}, "is no amount of money"),
        ({"line-0-price": ""}, "Say what it costs, or that it is covered."),
        ({"line-0-what": "", "line-0-because": "Because"}, "Say what is done."),
        ({"line-0-what": "", "line-0-price": ""}, "An estimate has at least one line."),
        ({"valid_until": "2020-01-01"}, "That day is over"),
        ({"currency": "XXX"}, "XXX"),
    ],
)
def test_an_estimate_with_a_fault_names_the_field_and_loses_nothing(
    bench: Client, hands: Hands, wrong: dict[str, str], said: str
) -> None:
    order = hands.to("received", "diagnosed", asks=True)
    answer = bench.post(f"{where(order)}estimate/", estimate_fields(note="Until Easter.", **wrong))
    assert answer.status_code == 422
    assert said in words(answer.content)
    assert "Until Easter." in answer.content.decode()
    assert not OrderEstimate.objects.exists()


def test_an_estimate_of_a_piece_that_nobody_looked_at_is_refused_and_nothing_typed_is_lost(
    bench: Client, order: WorkOrder
) -> None:
    answer = bench.post(f"{where(order)}estimate/", estimate_fields(note="Until Easter."))
    assert answer.status_code == 409
    assert "First this order needs: Received at the workshop." in words(answer.content)
    assert "Until Easter." in answer.content.decode()


def test_an_answer_heard_at_the_counter_is_kept_with_who_heard_it(counter: Client, bench: Client, hands: Hands) -> None:
    hands.to("received", "diagnosed", asks=True)
    order = hands.order
    bench.post(f"{where(order)}estimate/", estimate_fields())
    estimate = OrderEstimate.objects.get()
    for _ in range(2):
        do(counter, order, "answer", estimate=estimate.pk, agreed="yes", heard="telephone", words="Yes, gladly.")
    answer = EstimateAnswer.objects.get()
    assert (answer.agreed, answer.heard, step_of(order)) == (True, "telephone", "agreed")
    assert "“Yes, gladly.”" in page(counter, order)


def test_a_yes_after_the_last_day_is_refused_with_the_day(counter: Client, hands: Hands) -> None:
    hands.to("received", "diagnosed", asks=True)
    estimate = hands.estimate()  # valid until 8 April 2026
    answer = do(counter, hands.order, "answer", estimate=estimate.pk, agreed="yes", heard="counter", words="Do it.")
    assert answer.status_code == 409
    assert "The estimate was valid until 8 Apr 2026. Write it anew." in words(answer.content)
    assert "Do it." in words(answer.content)


def test_a_declined_order_goes_straight_back(counter: Client, bench: Client, hands: Hands) -> None:
    hands.to("received", "diagnosed", asks=True)
    estimate = hands.estimate()
    order = hands.order
    do(counter, order, "answer", estimate=estimate.pk, agreed="no", heard="counter", words="")
    text = page(bench, order)
    assert "The owner declined" in text
    assert "The owner agreed" not in text
    do(bench, order, "move", to="ready")
    assert step_of(order) == "ready"


def test_the_old_button_for_handing_back_leads_to_the_order(bench: Client, order: WorkOrder) -> None:
    answer = bench.get(f"/pieces/{order.piece_id}/hand-back/")
    assert answer["Location"] == where(order)


def test_a_number_is_read_as_people_write_it(bench: Client, order: WorkOrder) -> None:
    assert bench.get("/orders/r1/")["Location"] == where(order)
    assert bench.get("/orders/none/").status_code == 404


@pytest.mark.parametrize(
    "fields", [{}, {"deed": "burn"}, {"deed": "move", "move-to": "handed_back"}, {"deed": "answer"}]
)
def test_a_form_that_the_page_does_not_have_does_nothing(
    bench: Client, order: WorkOrder, fields: dict[str, str]
) -> None:
    assert bench.post(where(order), fields).status_code in (302, 409, 422)
    assert step_of(order) == "logged"


def test_a_long_stay_costs_no_more_statements(bench: Client, hands: Hands) -> None:
    order = hands.to("received")
    bench.get(where(order))
    for number in range(2):
        do(bench, order, "finding", finding="wear", what=f"Part {number}", form_key=uuid4())
    with CaptureQueriesContext(connection) as few:
        bench.get(where(order))
    for number in range(6):
        do(bench, order, "finding", finding="wear", what=f"Part {number}", form_key=uuid4())
    with CaptureQueriesContext(connection) as many:
        bench.get(where(order))
    assert len(few) == len(many) <= 50


def test_the_parts_an_order_used_stand_on_its_page_with_the_way_to_take_more(
    bench: Client, order: WorkOrder, watchmaker: Staff
) -> None:
    gasket = Part.objects.create(number="GK-10", name="Case back gasket", sort="gasket")
    assert "Parts used None yet." in page(bench, order)
    use_part(order, gasket, 2, at=timezone.now(), by=watchmaker, form_key=uuid4())
    shown = page(bench, order)
    assert "2 × Case back gasket GK-10" in shown
    assert reverse("workshop:order_parts", args=[order.number]) in bench.get(where(order)).content.decode()


def test_the_counter_reads_which_parts_were_used_and_takes_none(
    counter: Client, order: WorkOrder, watchmaker: Staff
) -> None:
    assert "Parts used" not in page(counter, order)
    gasket = Part.objects.create(number="GK-10", name="Case back gasket", sort="gasket")
    use_part(order, gasket, 1, at=timezone.now(), by=watchmaker, form_key=uuid4())
    assert "1 × Case back gasket" in page(counter, order)
    assert reverse("workshop:order_parts", args=[order.number]) not in counter.get(where(order)).content.decode()
