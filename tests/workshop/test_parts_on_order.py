"""Parts on order: what was ordered, what came of it, and what was heard later."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from service_center.access.models import Staff
from service_center.workshop.models import OnOrder, OrderedPart, OrderedWord, Part, PartsDelivery, PartsOrder
from service_center.workshop.parts.ordered.actions import NotDeliveredError, hear_of, receive, write_order
from service_center.workshop.parts.ordered.queries import awaited_by_part, latest_lines_of, overdue_deliveries
from service_center.workshop.parts.ordered.rules import Line, NotAnOrderError
from service_center.workshop.parts.queries import stock_of
from tests.factories import StaffFactory

pytestmark = pytest.mark.django_db
DAY = date(2026, 3, 3)
AT = datetime(2026, 3, 3, 10, 0, tzinfo=UTC)
EXPECTED = date(2026, 3, 24)


@pytest.fixture
def by() -> Staff:
    return StaffFactory(role="desk")


def part(number: str = "GK-10", **fields: Any) -> Part:
    return Part.objects.create(**{"number": number, "name": "Case back gasket", "sort": "gasket"} | fields)


def ordered(one: Part, quantity: int, by: Staff, expected_on: date = EXPECTED) -> OrderedPart:
    order = write_order(
        [Line(one.pk, quantity, expected_on)], supplier="Alder and Quill", reference="A-77", ordered_on=DAY, at=AT,
        by=by, form_key=uuid4(),
    )  # fmt: skip
    return order.lines.get()


def came(line: OrderedPart, quantity: int, by: Staff) -> PartsDelivery:
    return receive(line, quantity, at=AT, by=by, form_key=uuid4())


def heard(line: OrderedPart, quantity: int, expected_on: date, by: Staff) -> OrderedWord:
    return hear_of(
        line, quantity=quantity, expected_on=expected_on, why="short of brass", at=AT, by=by, form_key=uuid4()
    )


def to_come(line: OrderedPart) -> tuple[int, date] | None:
    one = OnOrder.objects.filter(line=line).first()
    return (one.quantity, one.expected_on) if one else None


def test_a_delivery_in_part_lies_on_the_shelf_and_leaves_the_rest_on_order(by: Staff) -> None:
    gasket = part()
    line = ordered(gasket, 50, by)
    came(line, 20, by)
    assert (stock_of(gasket), to_come(line)) == (20, (30, EXPECTED))
    came(line, 30, by)
    assert (stock_of(gasket), to_come(line)) == (50, None)


def test_more_than_was_ordered_lies_on_the_shelf(by: Staff) -> None:
    gasket = part()
    line = ordered(gasket, 50, by)
    came(line, 60, by)
    assert (stock_of(gasket), to_come(line)) == (60, None)


def test_a_delivery_written_by_mistake_is_taken_back_by_a_later_fact(by: Staff) -> None:
    gasket = part()
    line = ordered(gasket, 50, by)
    came(line, 50, by)
    came(line, -10, by)
    assert (stock_of(gasket), to_come(line)) == (40, (10, EXPECTED))
    assert PartsDelivery.objects.filter(line=line).count() == 2
    with pytest.raises(NotDeliveredError, match="40"):
        came(line, -41, by)


def test_the_latest_word_says_how_many_come_and_when(by: Staff) -> None:
    line = ordered(part(), 50, by)
    came(line, 20, by)
    heard(line, 50, EXPECTED + timedelta(days=30), by)
    assert to_come(line) == (30, EXPECTED + timedelta(days=30))
    heard(line, 20, EXPECTED, by)  # the rest is cancelled
    assert to_come(line) is None
    heard(line, 45, EXPECTED, by)  # and comes after all
    assert to_come(line) == (25, EXPECTED)


def test_the_same_form_twice_orders_and_delivers_once(by: Staff) -> None:
    gasket, key = part(), uuid4()
    for _ in range(2):
        write_order(
            [Line(gasket.pk, 5, EXPECTED)], supplier="", reference="", ordered_on=DAY, at=AT, by=by, form_key=key
        )
    line, delivered = OrderedPart.objects.get(), uuid4()
    for _ in range(2):
        receive(line, 2, at=AT, by=by, form_key=delivered)
    assert (stock_of(gasket), to_come(line)) == (2, (3, EXPECTED))


@pytest.mark.parametrize(
    ("quantities", "expected_on", "field"),
    [((), EXPECTED, "parts"), ((0,), EXPECTED, "quantity"), ((5,), DAY - timedelta(days=1), "expected_on"),
     ((5, 5), EXPECTED, "parts")],
)  # fmt: skip
def test_an_order_that_says_nothing_or_too_much_is_refused_by_its_field(
    quantities: tuple[int, ...], expected_on: date, field: str, by: Staff
) -> None:
    gasket = part()
    with pytest.raises(NotAnOrderError) as refused:
        write_order(
            [Line(gasket.pk, quantity, expected_on) for quantity in quantities], supplier="", reference="",
            ordered_on=DAY, at=AT, by=by, form_key=uuid4(),
        )  # fmt: skip
    assert refused.value.field == field
    assert not PartsOrder.objects.exists()


def test_what_was_ordered_heard_and_delivered_is_never_changed(by: Staff) -> None:
    line = ordered(part(), 50, by)
    came(line, 20, by)
    heard(line, 40, EXPECTED, by)
    for rows, change in (
        (PartsOrder.objects, {"supplier": "Another"}),
        (OrderedPart.objects, {"quantity": 1}),
        (OrderedWord.objects, {"quantity": 1}),
        (PartsDelivery.objects, {"move": 99}),
    ):
        with pytest.raises(DatabaseError, match="facts"), transaction.atomic():
            rows.update(**change)
    for rows in (OrderedWord.objects, PartsDelivery.objects):
        with pytest.raises(DatabaseError, match="facts"), transaction.atomic():
            rows.all().delete()


def test_a_delivery_is_overdue_from_the_day_after_it_was_expected(by: Staff) -> None:
    line = ordered(part(), 50, by)
    assert [overdue_deliveries(day) for day in (EXPECTED, EXPECTED + timedelta(days=1))] == [0, 1]
    came(line, 50, by)
    assert overdue_deliveries(EXPECTED + timedelta(days=1)) == 0


def test_what_is_on_order_is_told_by_part_the_earliest_first(by: Staff) -> None:
    gasket, crown = part(), part("C-1")
    ordered(gasket, 50, by, EXPECTED + timedelta(days=7))
    ordered(gasket, 10, by)
    ordered(crown, 3, by)
    found = awaited_by_part()
    assert [(one.quantity, one.expected_on) for one in found[gasket.pk]] == [
        (10, EXPECTED), (50, EXPECTED + timedelta(days=7)),
    ]  # fmt: skip
    assert [one.quantity for one in found[crown.pk]] == [3]
    first, second = latest_lines_of(gasket)
    assert (first.quantity, second.quantity) == (10, 50)


def receiving(line: OrderedPart, quantity: str) -> dict[str, str]:
    return {"form_key": str(uuid4()), "line": str(line.pk), "quantity": quantity}


@time_machine.travel(datetime(2026, 4, 1, 9, tzinfo=UTC))
def test_the_list_names_what_is_overdue_and_takes_a_delivery_from_whoever_unpacks_it(
    by: Staff, signed_in: Callable[..., Client]
) -> None:
    gasket = part()
    line = ordered(gasket, 50, by)
    bench = signed_in("watchmaker")
    assert "1 delivery is overdue" in bench.get("/workshop/parts/ordered/").content.decode()
    refused = bench.post("/workshop/parts/ordered/", receiving(line, "0"))
    assert (refused.status_code, stock_of(gasket)) == (422, 0)
    assert 'value="0"' in refused.content.decode()
    bench.post("/workshop/parts/ordered/", receiving(line, "50"))
    assert (stock_of(gasket), to_come(line)) == (50, None)
    assert "Nothing is on order" in bench.get("/workshop/parts/ordered/").content.decode()


def test_the_desk_writes_what_the_supplier_says_and_takes_a_mistake_back(
    by: Staff, signed_in: Callable[..., Client]
) -> None:
    line = ordered(part(), 50, by)
    came(line, 20, by)
    where, desk = f"/workshop/parts/ordered/{line.pk}/", signed_in("desk")
    early = desk.post(
        where, {"form_key": str(uuid4()), "quantity": "50", "expected_on": "2026-01-01", "why": "typed wrong"}
    )
    assert (early.status_code, "typed wrong" in early.content.decode()) == (422, True)
    desk.post(where, {"form_key": str(uuid4()), "quantity": "50", "expected_on": "2026-05-01", "why": "short of brass"})
    assert to_come(line) == (30, date(2026, 5, 1))
    too_many = desk.post(where, {"form_key": str(uuid4()), "take_back": "21"})
    assert "Only 20 came of this line" in too_many.content.decode()
    desk.post(where, {"form_key": str(uuid4()), "take_back": "5"})
    assert to_come(line) == (35, date(2026, 5, 1))
    page = desk.get(where).content.decode()
    assert "short of brass" in page
    assert "taken back" in page


def test_a_delivery_at_the_part_says_of_which_order_it_is(by: Staff, signed_in: Callable[..., Client]) -> None:
    gasket = part()
    line = ordered(gasket, 50, by)
    desk, where = signed_in("desk"), f"/workshop/parts/{gasket.pk}/"
    assert "50 to come, expected on 24 Mar 2026" in desk.get(where).content.decode()
    desk.post(where, {"form_key": str(uuid4()), "reason": f"line:{line.pk}", "quantity": "15"})
    assert (stock_of(gasket), to_come(line)) == (15, (35, EXPECTED))
    desk.post(where, {"form_key": str(uuid4()), "reason": "delivered", "quantity": "5"})
    assert (stock_of(gasket), to_come(line)) == (20, (35, EXPECTED))


def test_more_lines_on_order_cost_no_more_statements(by: Staff, signed_in: Callable[..., Client]) -> None:
    desk, counts = signed_in("desk"), []
    desk.get("/workshop/parts/ordered/")
    for number in (1, 8):
        for more in range(number):
            ordered(part(f"B-{number}-{more}"), 5, by)
        with CaptureQueriesContext(connection) as ran:
            desk.get("/workshop/parts/ordered/")
        counts.append(len(ran))
    assert counts[0] == counts[1]
