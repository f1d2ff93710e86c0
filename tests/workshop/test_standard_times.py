"""The house's table of minutes, beside what its own orders say."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from service_center.access.models import Staff, Trail
from service_center.book.rules import Complexity, EntryKind
from service_center.workshop.models import StandardTime, WorkOrder
from service_center.workshop.orders.queries.control import unfinished_of
from service_center.workshop.orders.rules.operations import Operation
from service_center.workshop.times.queries import table_of
from tests.workshop.hands import Hands

pytestmark = pytest.mark.django_db
WHERE = "/workshop/times/overhaul/"
TAKE = Callable[..., WorkOrder]


def typed(**changes: str) -> dict[str, str]:
    """The form as it stands, with some cells typed anew."""
    found = {}
    for row in table_of(EntryKind.OVERHAUL, date(2026, 3, 10)):
        for cell in row.cells:
            found[f"{row.operation}-{cell.complexity}"] = str(cell.time.minutes) if cell.time else ""
        found[f"{row.operation}-wait"] = str(max(cell.time.wait_hours for cell in row.cells if cell.time))
    return found | changes


def own() -> list[tuple[str, str, int, int]]:
    return list(StandardTime.objects.values_list("complexity", "operation", "minutes", "wait_hours"))


def test_only_what_was_typed_anew_becomes_the_houses_own(signed_in: Callable[..., Client]) -> None:
    signed_in("desk").post(WHERE, typed(**{"cleaning-simple": "35"}))
    assert own() == [("simple", "cleaning", 35, 0)]
    assert Trail.objects.get(deed="standard_time").after == {"minutes": 35, "wait_hours": 0}


def test_a_cell_left_empty_takes_the_operation_out_of_such_orders(
    signed_in: Callable[..., Client], taken_in: TAKE
) -> None:
    signed_in("desk").post(WHERE, typed(**{"refinishing-automatic": ""}))
    assert Operation.REFINISHING not in unfinished_of(taken_in())


def test_minutes_that_no_day_has_are_refused_and_what_was_typed_stays(signed_in: Callable[..., Client]) -> None:
    answer = signed_in("desk").post(WHERE, typed(**{"cleaning-simple": "2000", "casing-simple": "11"}))
    assert answer.status_code == 422
    assert 'value="2000"' in answer.content.decode()
    assert 'value="11"' in answer.content.decode()
    assert own() == []


def test_an_order_in_the_house_keeps_the_time_it_was_planned_with(
    signed_in: Callable[..., Client], taken_in: TAKE
) -> None:
    order = taken_in()
    signed_in("desk").post(WHERE, typed(**{"cleaning-automatic": "45"}))
    assert order.operations.get(operation="cleaning").minutes == 25


def test_what_was_learnt_stands_beside_the_table_and_is_taken_over_by_a_person(
    signed_in: Callable[..., Client], taken_in: TAKE, watchmaker: Staff
) -> None:
    for minutes in (13, 14, 15, 16, 90):
        hands = Hands(taken_in(), watchmaker, timezone.localdate() - timedelta(days=1))
        hands.to("received", "diagnosed", "on_the_bench")
        hands.finish(Operation.UNCASING, minutes)
    desk = signed_in("desk")
    assert "learnt 15 ± 1 of 5" in desk.get(WHERE).content.decode()
    assert own() == []
    desk.post(WHERE, {"take_over": "uncasing/automatic"})
    assert own() == [("automatic", "uncasing", 15, 0)]


def test_the_table_of_every_kind_opens(signed_in: Callable[..., Client]) -> None:
    desk = signed_in("manager")
    assert {desk.get(f"/workshop/times/{kind}/").status_code for kind in EntryKind} == {200}


def test_the_hours_of_a_whole_overhaul_stand_below_its_minutes(signed_in: Callable[..., Client]) -> None:
    page = signed_in("desk").get("/workshop/times/").content.decode()
    assert all(f'times__sum">{Decimal(hours)}<' in page for hours in ("4.0", "5.5", "9.0", "18.0"))
    assert len(Complexity) == 4
