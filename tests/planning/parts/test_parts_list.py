"""What parts the coming months need: counted from the book, the orders in the house, the shelf and what is on order."""

from collections.abc import Callable
from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine

from service_center.access.models import Staff
from service_center.book.actions import move_piece
from service_center.book.models import Piece, WatchModel
from service_center.book.rules import EntryKind, Place
from service_center.planning.models import PartOutlook
from service_center.planning.parts.actions import count_parts, count_parts_daily
from service_center.planning.parts.queries import counted_parts
from service_center.planning.queries.pictures import latest_picture
from service_center.planning.rules.parts_needed import overhauls_ahead
from service_center.workshop.orders.actions import open_order
from service_center.workshop.parts.actions import use_part
from tests.factories import CalibreFactory, PieceFactory, WatchModelFactory
from tests.planning.parts.shelf import AT, DAY, laid, listed, on_order, on_the_day, part, row_of, taken_in, waits
from tests.workshop.hands import Hands, bring_through

Sold = Callable[..., list[Piece]]
pytestmark = pytest.mark.usefixtures("benches", "today")


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
