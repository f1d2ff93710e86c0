"""What parts the coming months need, from the book to the desk's page."""

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from service_center.access.models import Staff
from service_center.book.actions import move_piece
from service_center.book.models import Piece, WatchModel
from service_center.book.rules import EntryKind, Place
from service_center.intervals.actions import bring_to
from service_center.planning.actions import tick
from service_center.planning.models import PartOutlook
from service_center.planning.parts.actions import count_parts, count_parts_daily
from service_center.planning.parts.order_list import PartRow, PartsList, parts_list
from service_center.planning.parts.queries import counted_parts
from service_center.planning.queries.pictures import latest_picture
from service_center.planning.rules.parts_needed import overhauls_ahead
from service_center.workshop.models import OnOrder, Part, WorkOrder
from service_center.workshop.orders.actions import open_order
from service_center.workshop.parts.actions import move_stock, use_part
from service_center.workshop.parts.ordered.actions import write_order
from service_center.workshop.parts.ordered.rules import Line
from service_center.workshop.parts.rules import StockReason
from tests.factories import CalibreFactory, PieceFactory, StaffFactory, WatchModelFactory
from tests.workshop.hands import Hands, bring_through

Sold = Callable[..., list[Piece]]
pytestmark = pytest.mark.usefixtures("benches", "today")
DAY = date(2026, 11, 25)
AT = datetime(2026, 11, 25, 9, tzinfo=UTC)


@pytest.fixture
def today() -> Iterator[None]:
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def by() -> Staff:
    return StaffFactory(role="desk")


def part(number: str = "GK-10", **fields: Any) -> Part:
    return Part.objects.create(
        **{"number": number, "name": "Case back gasket", "sort": "gasket", "pack": 10, "delivery_days": 14} | fields
    )


def laid(one: Part, quantity: int, by: Staff) -> None:
    move_stock(one, quantity, StockReason.DELIVERED, at=AT, by=by, form_key=uuid4())


def taken_in(piece: Piece, by: Staff, number: int = 1) -> WorkOrder:
    move_piece(piece, to=Place.BOUTIQUE, boutique=piece.boutique, at=AT, by=by)
    return open_order(
        piece, number=f"R-{number:06d}", boutique=piece.boutique, asked=[EntryKind.OVERHAUL], opened_on=DAY,
        at=AT, by=by,
    )  # fmt: skip


def on_the_day() -> None:
    bring_to(as_of=DAY)
    tick(as_of=DAY, now=AT)


def waits(*parts: Part) -> dict[int, int]:
    """The orders that wait for each part, as a page reads it of the last count."""
    count_parts_daily(as_of=DAY, now=AT)
    return {one.part.pk: sum(one.waiting.values()) for one in counted_parts()[0] if one.part in parts}


def listed(cover: int = 26) -> PartsList:
    picture = latest_picture(52).picture
    assert picture
    return parts_list(picture, DAY, cover)


def row_of(one: Part, cover: int = 26) -> PartRow:
    found = listed(cover)
    return next(row for row in [*found.now, *found.later, *found.enough] if row.part == one)


def test_a_gasket_for_any_piece_is_needed_as_often_as_overhauls_are_expected(sold: Sold) -> None:
    gasket = part()
    sold(120, "2020-03-04")
    on_the_day()
    picture = latest_picture(52).picture
    assert picture
    overhauls = sum(sum(weeks) for weeks in overhauls_ahead(picture, DAY).values())
    assert overhauls > 20
    assert row_of(gasket).needs[2].expected == pytest.approx(overhauls)  # one a piece, as common practice has it


def test_calibres_of_one_skill_share_its_overhauls_as_they_are_due(sold: Sold, model: WatchModel) -> None:
    other = WatchModelFactory(calibre=CalibreFactory(complexity="automatic"))
    ours, theirs = part("M-1", calibre=model.calibre), part("M-2", calibre=other.calibre)
    of_the_model, any_piece = part("C-1", model=other), part("G-1")
    sold(90, "2020-03-04")
    sold(30, "2020-03-04", model=other)
    on_the_day()
    whole = row_of(any_piece).needs[2].expected
    assert row_of(ours).needs[2].expected == pytest.approx(0.75 * whole)
    assert row_of(theirs).needs[2].expected == pytest.approx(0.25 * whole)
    assert row_of(of_the_model).needs[2].expected == pytest.approx(0.25 * whole)


def test_a_calibre_of_which_nothing_is_due_needs_nothing(sold: Sold) -> None:
    nothing = part(calibre=CalibreFactory(complexity="automatic"))
    sold(50, "2020-03-04")
    on_the_day()
    assert row_of(nothing).needs[2].high == 0
    assert row_of(nothing).order.quantity == 0


def test_an_order_in_the_house_counts_until_it_has_used_the_part(by: Staff) -> None:
    gasket = part()
    laid(gasket, 50, by)
    order = taken_in(PieceFactory(), by)
    assert waits(gasket) == {gasket.pk: 1}
    use_part(order, gasket, 1, at=AT, by=by, form_key=uuid4())
    assert waits(gasket) == {gasket.pk: 0}
    use_part(order, gasket, -1, at=AT, by=by, form_key=uuid4())
    assert waits(gasket) == {gasket.pk: 1}


@pytest.mark.parametrize("counted_after", [timedelta(0), timedelta(hours=1)])
def test_the_shelf_is_right_whether_a_move_lies_before_the_count_or_after_it(
    by: Staff, counted_after: timedelta
) -> None:
    gasket = part()
    laid(gasket, 50, by)
    order = taken_in(PieceFactory(), by)
    use_part(order, gasket, 2, at=AT, by=by, form_key=uuid4())
    count_parts(as_of=DAY, now=AT + counted_after)
    laid(gasket, 10, by)
    [one] = counted_parts()[0]
    assert (one.on_hand, sum(one.waiting.values())) == (58, 0)
    assert one.outlook.on_hand == (48 if counted_after else 0)


def test_an_order_waits_only_for_parts_that_fit_its_piece(by: Staff, model: WatchModel) -> None:
    fits, other = part("M-1", calibre=model.calibre), part("M-2", calibre=CalibreFactory())
    taken_in(PieceFactory(model=model), by)
    assert waits(fits, other) == {fits.pk: 1, other.pk: 0}


def test_an_order_under_control_waits_for_nothing(by: Staff) -> None:
    gasket = part()
    order = taken_in(PieceFactory(), by)
    Hands(order, by, DAY).to_control()
    assert waits(gasket) == {gasket.pk: 0}


def test_what_the_house_s_own_orders_used_weighs_more_than_common_practice(by: Staff, sold: Sold) -> None:
    crown = part("C-1", sort="crown")
    for number in range(6):
        order = taken_in(PieceFactory(), by, number)
        use_part(order, crown, 1, at=AT, by=by, form_key=uuid4())
        with time_machine.travel(AT + timedelta(days=3, hours=5)):
            bring_through(order.piece, DAY + timedelta(days=3), by=by)
    count_parts(as_of=DAY + timedelta(days=4), now=AT + timedelta(days=4))
    outlook = PartOutlook.objects.get(part=crown)
    assert outlook.kinds["overhaul"] == {"used": 6, "orders": 6, "waiting": 0}


def test_what_may_run_out_before_a_delivery_is_ordered_now_first(sold: Sold, by: Staff) -> None:
    short, later, full = part("A-1"), part("A-2"), part("A-3")
    laid(later, 30, by)
    laid(full, 1000, by)
    sold(200, "2019-08-05")  # due since August
    on_the_day()
    found = listed()
    assert [row.part for row in found.now] == [short]
    assert [row.part for row in found.later] == [later]
    assert [row.part for row in found.enough] == [full]
    assert found.now[0].order.by == DAY
    assert found.later[0].order.by == found.later[0].short_on - timedelta(days=14)  # type: ignore[operator]
    assert found.now[0].order.quantity % 10 == 0


def test_an_order_for_longer_is_no_smaller(sold: Sold) -> None:
    gasket = part()
    sold(200, "2020-03-04")
    on_the_day()
    quantities = [row_of(gasket, cover).order.quantity for cover in (13, 26, 52)]
    assert quantities == sorted(quantities)
    assert quantities[0] < quantities[2]


def test_the_worker_counts_once_a_day_and_a_new_part_at_the_next_look() -> None:
    part("A-1")
    assert count_parts_daily(as_of=DAY, now=AT) == 1
    assert count_parts_daily(as_of=DAY, now=AT) == 0
    part("A-2")
    assert count_parts_daily(as_of=DAY, now=AT) == 2
    assert count_parts_daily(as_of=DAY + timedelta(days=1), now=AT) == 2
    assert PartOutlook.objects.count() == 2


def test_a_part_no_longer_used_is_on_no_list(sold: Sold) -> None:
    part(in_use=False)
    on_the_day()
    found = listed()
    assert [*found.now, *found.later, *found.enough, *found.not_counted] == []


def test_a_part_written_down_since_the_count_is_named_as_not_counted() -> None:
    on_the_day()
    new = part()
    assert listed().not_counted == [new]


def page(client: Client, **data: str) -> str:
    answer = client.get(reverse("planning:parts"), data)
    assert answer.status_code == 200
    return answer.content.decode()


def test_before_the_weeks_are_worked_out_the_page_says_so_and_can_ask_for_it(signed_in: Callable[..., Client]) -> None:
    desk = signed_in("desk")
    assert "have not been worked out yet" in page(desk)
    answer = desk.post(reverse("planning:work_out"), {"weeks": "52", "page": "parts"})
    assert answer["Location"].startswith(reverse("planning:parts"))
    assert "Being worked out since" in page(desk)


def test_the_page_says_what_to_order_and_the_rest_is_one_step_away(
    signed_in: Callable[..., Client], sold: Sold, by: Staff
) -> None:
    part("A-1", name="Crown gasket")
    full = part("A-2", name="Crystal gasket")
    laid(full, 2000, by)
    sold(100, "2020-03-04")
    on_the_day()
    desk = signed_in("desk")
    shown = page(desk)
    assert "Crown gasket" in shown
    assert "Crystal gasket" not in shown
    assert "1 part of which enough is there" in shown
    assert "Crystal gasket" in page(desk, all="1")
    assert "An order lasts 26 weeks" in page(desk, cover="nonsense")


def test_a_watchmaker_sees_the_parts_and_no_way_to_pages_that_are_closed_to_them(
    signed_in: Callable[..., Client],
) -> None:
    on_the_day()
    assert reverse("planning:proposal") not in page(signed_in("watchmaker"))


def test_many_parts_come_in_pages_the_most_urgent_first(
    signed_in: Callable[..., Client], sold: Sold, by: Staff
) -> None:
    for number in range(60):
        part(f"A-{number:02d}", delivery_days=14)
    laid(part("B-00", name="Crystal gasket"), 30, by)
    sold(200, "2019-08-05")
    on_the_day()
    desk = signed_in("desk")
    first, second = page(desk), page(desk, page="2")
    assert "1 to 50 of 61" in first
    assert "A-00" in first
    assert "A-59" in second
    assert "Order later" not in first
    assert "Crystal gasket" in second


def test_the_list_goes_on_paper(signed_in: Callable[..., Client], sold: Sold) -> None:
    part()
    sold(60, "2020-03-04")
    on_the_day()
    answer = signed_in("desk").get(reverse("planning:parts_paper"), {"size": "letter"})
    assert answer.status_code == 200
    assert answer.content.startswith(b"%PDF")


def test_there_is_no_paper_before_the_weeks_are_worked_out(signed_in: Callable[..., Client]) -> None:
    answer = signed_in("desk").get(reverse("planning:parts_paper"), follow=True)
    assert "have not been worked out yet" in answer.content.decode()


def test_more_parts_cost_no_more_statements(sold: Sold) -> None:
    part("A-0")
    on_the_day()
    picture = latest_picture(52).picture
    assert picture
    counts = []
    for number in (1, 6):
        for more in range(number):
            part(f"B-{number}-{more}")
        count_parts(as_of=DAY, now=AT)
        with CaptureQueriesContext(
            connection,
        ) as ran:
            parts_list(picture, timezone.localdate(), 26)
        counts.append(len(ran))
    assert counts == [3, 3]
    assert len(counted_parts()[0]) == 8


def on_order(one: Part, quantity: int, expected_on: date, by: Staff) -> None:
    write_order(
        [Line(one.pk, quantity, expected_on)], supplier="", reference="", ordered_on=DAY - timedelta(days=30), at=AT,
        by=by, form_key=uuid4(),
    )  # fmt: skip


def test_what_is_on_order_counts_against_what_to_order(sold: Sold, by: Staff) -> None:
    gasket = part(delivery_days=7)
    laid(gasket, 20, by)
    sold(200, "2020-03-04")
    on_the_day()
    before = row_of(gasket)
    assert before.order.quantity > 20
    on_order(gasket, before.order.quantity - 10, DAY + timedelta(days=7), by)
    assert row_of(gasket).order.quantity == 10
    on_order(gasket, 10, DAY + timedelta(days=7), by)
    assert row_of(gasket).order.quantity == 0


def test_a_part_that_may_be_missing_before_its_delivery_is_asked_after_and_not_ordered_again(
    sold: Sold, by: Staff
) -> None:
    gasket = part()
    sold(200, "2019-08-05")  # due since August
    on_the_day()
    on_order(gasket, 2000, DAY + timedelta(weeks=20), by)
    found = listed()
    assert [row.part for row in found.pressing] == [gasket]
    assert found.now == []


def test_an_overdue_delivery_is_named_and_does_not_fill_the_shelf(sold: Sold, by: Staff) -> None:
    gasket = part()
    sold(200, "2019-08-05")
    on_the_day()
    on_order(gasket, 2000, DAY - timedelta(days=1), by)
    [row] = listed().pressing
    assert (row.late, row.on_order, row.next_on) == (2000, 2000, None)
    assert row.short_on is not None
    assert row.short_on < DAY + timedelta(weeks=2)


def test_checks_and_repairs_use_parts_as_often_as_they_come(sold: Sold, by: Staff) -> None:
    gasket = part()
    sold(120, "2020-03-04")  # whose overhaul takes the check along
    sold(60, "2024-11-05")
    piece = PieceFactory()
    move_piece(piece, to=Place.BOUTIQUE, boutique=piece.boutique, at=AT, by=by)
    open_order(
        piece, number="R-000001", boutique=piece.boutique, asked=[EntryKind.REPAIR], opened_on=DAY, at=AT, by=by
    )  # fmt: skip
    on_the_day()
    [of_gasket] = counted_parts()[0]
    assert of_gasket.waiting[EntryKind.REPAIR] == 1
    assert of_gasket.outlook.ahead["repair"][:2] == pytest.approx([1 / 13, 1 / 13])
    checks = sum(of_gasket.outlook.ahead["tightness_check"][:52])
    assert checks == pytest.approx(60 * 0.40, rel=0.05)  # of sixty invitations to come, as common practice has it
    picture = latest_picture(52).picture
    assert picture
    overhauls = sum(sum(weeks) for weeks in overhauls_ahead(picture, DAY).values())
    # Common practice: a gasket at every overhaul, at seven repairs in ten and at three checks in twenty.
    expected = overhauls + 0.7 * (1 + 52 / 13) + 0.15 * checks
    assert row_of(gasket).needs[2].expected == pytest.approx(expected, rel=0.05)


def ordering(*lines: tuple[str, str, str], **fields: str) -> dict[str, str]:
    data = {
        "form_key": str(uuid4()), "supplier": "Alder and Quill", "reference": "", "ordered_on": DAY.isoformat(),
        "lines-TOTAL_FORMS": str(len(lines)), "lines-INITIAL_FORMS": "0",
    }  # fmt: skip
    for number, values in enumerate(lines):
        data |= {
            f"lines-{number}-{name}": one
            for name, one in zip(("number", "quantity", "expected_on"), values, strict=True)
        }
    return data | fields


def test_the_desk_writes_an_order_down_from_the_list(signed_in: Callable[..., Client], sold: Sold) -> None:
    gasket = part()
    part("C-1", name="Crown", sort="crown")
    sold(200, "2019-08-05")
    on_the_day()
    desk, where = signed_in("desk"), reverse("planning:write_order")
    begun = desk.get(where).content.decode()
    assert f'value="{row_of(gasket).order.quantity}"' in begun
    assert 'value="2026-12-09"' in begun  # fourteen days from order to shelf
    desk.post(where, ordering(("GK-10", "40", "2026-12-09"), ("C-1", "", "2026-12-09")))
    assert [(one.part.number, one.quantity) for one in OnOrder.objects.select_related("part")] == [("GK-10", 40)]


def test_what_is_ordered_later_has_its_number_beside_it(
    signed_in: Callable[..., Client], sold: Sold, by: Staff
) -> None:
    laid(part(delivery_days=7), 30, by)
    sold(200, "2019-08-05")
    on_the_day()
    [row] = listed().later
    page = " ".join(signed_in("desk").get(reverse("planning:write_order")).content.decode().split())
    assert f"the list says {row.order.quantity}, by" in page


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ((("GK-10", "", ""),), "How many of which part"),
        ((("NO-1", "4", "2026-12-09"),), "No part has this number"),
        ((("GK-10", "4", ""),), "When is it expected"),
        ((("GK-10", "4", "2026-11-01"),), "was not ordered yet on that day"),
        ((("GK-10", "4", "2026-12-09"), ("GK-10", "2", "2026-12-09")), "stands in the order twice"),
    ],
)
def test_an_order_that_cannot_be_is_refused_with_its_reason_and_what_was_typed(
    lines: tuple[tuple[str, str, str], ...], said: str, signed_in: Callable[..., Client]
) -> None:
    part()
    answer = signed_in("desk").post(reverse("planning:write_order"), ordering(*lines))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    assert 'value="Alder and Quill"' in page
    assert f'value="{lines[0][0]}"' in page
    assert not OnOrder.objects.exists()


def test_a_day_to_come_is_no_day_on_which_it_was_ordered(signed_in: Callable[..., Client]) -> None:
    part()
    answer = signed_in("desk").post(
        reverse("planning:write_order"), ordering(("GK-10", "4", "2027-02-01"), ordered_on="2027-01-01")
    )
    assert (answer.status_code, "This day is still to come" in answer.content.decode()) == (422, True)
