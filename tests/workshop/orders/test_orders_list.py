"""The one list of orders: who sees which, in which order, and at what cost."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from service_center.access.models import Staff
from service_center.workshop.models import WorkOrder
from service_center.workshop.orders.queries import listing
from service_center.workshop.orders.queries.listing import Chosen, counts_by_step, orders_page
from service_center.workshop.orders.rules.steps import Step
from tests.factories import BoutiqueFactory, StaffFactory
from tests.workshop.hands import Hands, bring_through

pytestmark = pytest.mark.django_db
Take = Callable[..., WorkOrder]
TODAY = date(2026, 3, 20)


def signed_in(role: str, boutique: str = "") -> Client:
    client = Client()
    client.force_login(StaffFactory(role=role, boutique=boutique))
    return client


def promised(order: WorkOrder, on: date | None) -> WorkOrder:
    order.promised_on = on
    order.save(update_fields=["promised_on"])
    return order


def numbers(**chosen: object) -> list[str]:
    return [order.number for order in orders_page(StaffFactory(), Chosen(**chosen)).rows]  # type: ignore[arg-type]


def test_the_earliest_promise_comes_first_and_one_without_a_promise_last(taken_in: Take) -> None:
    never = promised(taken_in(), None)
    later = promised(taken_in(), TODAY + timedelta(days=9))
    late = promised(taken_in(), TODAY - timedelta(days=2))
    assert numbers() == [late.number, later.number, never.number]


def test_a_boutique_sees_the_orders_it_took_in_and_no_others(taken_in: Take) -> None:
    here, there = BoutiqueFactory(code="HERE"), BoutiqueFactory(code="THERE")
    mine, theirs = taken_in(boutique=here), taken_in(boutique=there)
    page = signed_in("boutique", "HERE").get("/orders/").content.decode()
    assert mine.number in page
    assert theirs.number not in page
    assert theirs.number not in signed_in("boutique", "HERE").get("/orders/?boutique=THERE").content.decode()
    assert signed_in("boutique", "HERE").get(f"/orders/{theirs.number}/").status_code == 404
    assert theirs.number in signed_in("watchmaker").get("/orders/").content.decode()


def test_what_was_handed_back_is_listed_only_where_it_is_asked_for(taken_in: Take) -> None:
    over, here = taken_in("strap"), taken_in("strap")
    bring_through(over.piece, TODAY)
    assert numbers() == [here.number]
    assert numbers(step=Step.HANDED_BACK) == [over.number]
    assert numbers(text=over.piece.serial[:8]) == [here.number, over.number]  # whatever its step, the newest first


def test_steps_are_counted_with_those_that_are_late(taken_in: Take, watchmaker: Staff) -> None:
    promised(taken_in(), TODAY - timedelta(days=1))
    promised(taken_in(), TODAY)
    promised(Hands(taken_in(), watchmaker, TODAY).to("received"), TODAY + timedelta(days=1))
    for ready_on in (TODAY - timedelta(days=4), TODAY - timedelta(days=2)):
        ready = promised(taken_in(), TODAY - timedelta(days=3))
        WorkOrder.objects.filter(pk=ready.pk).update(step="ready", ready_on=ready_on)
    counts = {one.step: (one.orders, one.late) for one in counts_by_step(StaffFactory(), TODAY)}
    assert counts[Step.READY] == (2, 1)  # the other was ready in time, and waits for its owner
    assert counts[Step.LOGGED] == (2, 1)
    assert counts[Step.RECEIVED] == (1, 0)
    assert Step.HANDED_BACK not in counts


def test_every_order_stands_on_exactly_one_page(taken_in: Take, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listing, "PAGE", 2)
    for day in (TODAY, TODAY, TODAY, None, None):
        promised(taken_in("strap"), day)
    found, after = [], ""
    while True:
        page = orders_page(StaffFactory(), Chosen(), after)
        found += [order.number for order in page.rows]
        if not page.following:
            break
        after = page.following
    assert len(found) == len(set(found)) == 5


@pytest.mark.parametrize("after", ["x", "2026-13-01.4", "2026-03-01.", "2026-03-01.99999999999999999999", "٣.٣"])
def test_a_key_that_nothing_gave_is_the_first_page(taken_in: Take, after: str) -> None:
    order = taken_in("strap")
    assert order.number in signed_in("desk").get("/orders/", {"after": after}).content.decode()


@pytest.mark.parametrize("typed", ["R-000001", "r1", "R1 "])
def test_a_number_in_the_search_leads_to_its_order(taken_in: Take, typed: str) -> None:
    taken_in("strap")
    for where in ("/search/", "/orders/"):
        answer = signed_in("desk").get(where, {"q": typed})
        assert (answer.status_code, answer["Location"]) == (302, "/orders/R-000001/")


def test_a_label_is_read_as_the_serial_and_its_piece_leads_to_the_order_by_one_tap(taken_in: Take) -> None:
    order = taken_in("strap")
    answer = signed_in("desk").get("/search/", {"q": order.piece.serial})
    assert f'href="/orders/{order.number}/"' in signed_in("desk").get(answer["Location"]).content.decode()


def test_another_boutiques_number_finds_nothing(taken_in: Take) -> None:
    order = taken_in("strap")
    answer = signed_in("boutique", BoutiqueFactory(code="OTHER").code).get("/search/", {"q": order.number})
    assert answer.status_code == 200


def test_the_list_costs_the_same_however_long_it_is(taken_in: Take) -> None:
    client = signed_in("desk")
    taken_in("strap")
    client.get("/orders/")
    with CaptureQueriesContext(connection) as short:
        client.get("/orders/")
    for _ in range(12):
        taken_in("strap")
    with CaptureQueriesContext(connection) as long:
        page = client.get("/orders/").content.decode()
    assert page.count('<th scope="row"') == 13
    assert len(short) == len(long)


def test_the_days_late_are_said(taken_in: Take) -> None:
    promised(taken_in("strap"), timezone.localdate() - timedelta(days=3))
    assert "3 days late" in signed_in("desk").get("/orders/").content.decode()
