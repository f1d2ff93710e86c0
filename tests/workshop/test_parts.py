"""The shelf: what was delivered, counted, spoilt and used."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from service_center.access.models import Staff
from service_center.book.rules import EntryKind
from service_center.workshop.models import Part, StockMove, WorkOrder
from service_center.workshop.parts.actions import NotUsedError, OrderClosedError, move_stock, use_part
from service_center.workshop.parts.queries import Usage, parts_for, parts_with_stock, usage_of_parts, used_by
from service_center.workshop.parts.rules import StockReason
from tests.factories import CalibreFactory
from tests.workshop.hands import bring_through

pytestmark = pytest.mark.django_db
Take = Callable[..., WorkOrder]


def gasket(**fields: Any) -> Part:
    return Part.objects.create(**{"number": "GK-10", "name": "Case back gasket", "sort": "gasket"} | fields)


def yesterday() -> date:
    """Work of ten o'clock is over by now, whatever the hour of the day is: what is read after it is recorded after it."""
    return timezone.localdate() - timedelta(days=1)


def on_hand(part: Part) -> int:
    return parts_with_stock().get(pk=part.pk).on_hand  # type: ignore[attr-defined, no-any-return]


def moved(part: Part, quantity: int, reason: str, by: Staff) -> StockMove | None:
    return move_stock(part, quantity, StockReason(reason), at=timezone.now(), by=by, form_key=uuid4())


def used(order: WorkOrder, part: Part, quantity: int, by: Staff) -> StockMove:
    return use_part(order, part, quantity, at=timezone.now(), by=by, form_key=uuid4())


def test_what_lies_on_the_shelf_is_what_came_less_what_went(taken_in: Take, watchmaker: Staff) -> None:
    part, order = gasket(), taken_in()
    moved(part, 20, "delivered", watchmaker)
    used(order, part, 2, watchmaker)
    moved(part, 1, "spoilt", watchmaker)
    assert on_hand(part) == 17
    assert [(one.number, number) for one, number in used_by(order)] == [("GK-10", 2)]


def test_a_count_puts_the_shelf_right_and_a_right_shelf_moves_nothing(watchmaker: Staff) -> None:
    part = gasket()
    moved(part, 20, "delivered", watchmaker)
    moved(part, 18, "counted", watchmaker)
    assert on_hand(part) == 18
    assert moved(part, 18, "counted", watchmaker) is None


def test_the_same_form_twice_uses_a_part_once(taken_in: Take, watchmaker: Staff) -> None:
    part, order, key = gasket(), taken_in(), uuid4()
    for _ in range(2):
        use_part(order, part, 1, at=timezone.now(), by=watchmaker, form_key=key)
    assert used_by(order) == [(part, 1)]


def test_no_more_is_put_back_than_was_used(taken_in: Take, watchmaker: Staff) -> None:
    part, order = gasket(), taken_in()
    used(order, part, 1, watchmaker)
    used(order, part, -1, watchmaker)
    with pytest.raises(NotUsedError):
        used(order, part, -1, watchmaker)
    assert used_by(order) == []


def test_what_a_closed_order_used_is_history(taken_in: Take, watchmaker: Staff) -> None:
    part, order = gasket(), taken_in()
    bring_through(order.piece, yesterday(), by=watchmaker)
    with pytest.raises(OrderClosedError):
        used(order, part, 1, watchmaker)


def test_an_order_is_offered_the_parts_of_its_calibre_its_model_and_those_for_any(taken_in: Take) -> None:
    order = taken_in()
    model = order.piece.model
    assert model is not None
    mine = gasket(number="GK-1", model=model), gasket(number="MS-1", calibre=model.calibre), gasket(number="ANY-1")
    gasket(number="GK-9", calibre=CalibreFactory())
    assert set(parts_for(order)) == set(mine)


def test_how_often_overhauls_use_a_part_is_read_off_the_closed_ones(taken_in: Take, watchmaker: Staff) -> None:
    first, second = taken_in(), taken_in()
    part = gasket()
    used(first, part, 2, watchmaker)
    for order in (first, second):
        bring_through(order.piece, yesterday(), by=watchmaker)
    usage = usage_of_parts(timezone.localdate())[part.pk]
    assert usage[EntryKind.OVERHAUL] == Usage(used=2, orders=2)
    assert usage[EntryKind.REPAIR] == Usage(used=0, orders=0)


def test_the_bench_takes_a_part_at_one_tap(taken_in: Take, signed_in: Callable[..., Client]) -> None:
    order, part, bench = taken_in(), gasket(), signed_in("watchmaker")
    where = f"/workshop/orders/{order.number}/parts/"
    bench.post(where, {"part": part.pk, "quantity": "1", "form_key": str(uuid4())})
    assert used_by(order) == [(part, 1)]
    page = bench.post(where, {"part": part.pk, "quantity": "-2", "form_key": str(uuid4())}, follow=True)
    assert "none can be put back" in page.content.decode()


def test_a_part_fits_a_calibre_or_a_model_and_a_taken_number_is_refused(
    taken_in: Take, signed_in: Callable[..., Client]
) -> None:
    model = taken_in().piece.model
    assert model is not None
    gasket()
    desk = signed_in("desk")
    typed = {"number": "GK-10", "name": "Gasket", "sort": "gasket", "pack": "10", "delivery_days": "21", "in_use": "on"}
    assert "Another part has this number" in desk.post("/workshop/parts/new/", typed).content.decode()
    both = typed | {"number": "GK-11", "calibre": str(model.calibre_id), "reference": model.reference}
    assert "choose one of them" in desk.post("/workshop/parts/new/", both).content.decode()
    unknown = typed | {"number": "GK-11", "reference": "NO-1"}
    answer = desk.post("/workshop/parts/new/", unknown)
    assert (answer.status_code, 'value="NO-1"' in answer.content.decode()) == (422, True)
    assert desk.post("/workshop/parts/new/", typed | {"number": "GK-11"}).status_code == 302


def test_a_delivery_is_written_at_the_part(signed_in: Callable[..., Client]) -> None:
    part, desk = gasket(), signed_in("desk")
    sent = {"reason": "delivered", "quantity": "30", "form_key": str(uuid4())}
    for _ in range(2):
        desk.post(f"/workshop/parts/{part.pk}/", sent)
    assert on_hand(part) == 30
    nothing = desk.post(f"/workshop/parts/{part.pk}/", sent | {"quantity": "0", "form_key": str(uuid4())})
    assert "only a count can find none" in nothing.content.decode()
