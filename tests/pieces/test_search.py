"""One box finds a piece by its serial, its owner's name or telephone, within what the asker may see."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from uuid import uuid4

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from service_center.book.actions import move_piece
from service_center.book.rules import Place
from service_center.workshop.models import OrderEstimate, WorkOrder
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, StaffFactory
from tests.owner_pages.conftest import words_of

pytestmark = pytest.mark.django_db


def found(client: Client, text: str) -> list[str]:
    return [row["piece"].serial for row in client.get("/search/", {"q": text}).context["rows"]]


@pytest.mark.parametrize("typed", ["FH21-004711", "fh21 004711", "FH21004711", "  fh21.004711 "])
def test_a_whole_serial_however_typed_leads_straight_to_the_piece(signed_in: Callable[..., Client], typed: str) -> None:
    piece = PieceFactory(serial="FH21-004711")
    PieceFactory(serial="FH21-004711-A")
    response = signed_in("desk").get("/search/", {"q": typed})
    assert (response.status_code, response["Location"]) == (302, f"/pieces/{piece.pk}/")


@pytest.mark.parametrize("typed", ["FH21-0047", "4712", "winter", "Ada Wint", "0456", "20 7946 0456"])
def test_a_part_of_the_serial_or_the_owner_s_name_or_number_finds_it(
    signed_in: Callable[..., Client], typed: str
) -> None:
    PieceFactory(serial="FH21-004712", owner=OwnerFactory(name="Ada Winter", phone="+44 20 7946 0456"))
    PieceFactory(serial="FH22-999999", owner=OwnerFactory(name="Jón Hallgrímsson", phone="+354 555 0100"))
    assert found(signed_in("desk"), typed) == ["FH21-004712"]


@pytest.mark.parametrize("typed", ["hallgrimsson", "山本", "Παππά", "παππα"])
def test_names_are_found_in_any_script_with_or_without_accents(signed_in: Callable[..., Client], typed: str) -> None:
    for name in ("Jón Hallgrímsson", "山本 結衣", "Μαρία Παππά"):
        PieceFactory(owner=OwnerFactory(name=name))
    assert len(found(signed_in("desk"), typed)) == 1


def test_a_boutique_finds_only_what_it_sold_or_took_in(signed_in: Callable[..., Client]) -> None:
    own, other = BoutiqueFactory(), BoutiqueFactory()
    PieceFactory(serial="FH21-000001", boutique=own, owner=OwnerFactory(name="Ada Winter"))
    hidden = PieceFactory(serial="FH21-000002", boutique=other, owner=OwnerFactory(name="Ada Winter"))
    counter = signed_in("boutique", own.code)
    assert found(counter, "winter") == ["FH21-000001"]
    assert found(counter, "FH21-00000") == ["FH21-000001"]
    assert counter.get("/search/", {"q": hidden.serial}).status_code == 200, "no way to a hidden piece"
    assert counter.get(f"/pieces/{hidden.pk}/").status_code == 404


def test_a_boutique_goes_on_seeing_what_it_once_took_in(signed_in: Callable[..., Client]) -> None:
    own, other = BoutiqueFactory(), BoutiqueFactory()
    piece = PieceFactory(serial="FH21-000003", boutique=other)
    for place, boutique, day in ((Place.BOUTIQUE, own, 2), (Place.OWNER, None, 4)):
        move_piece(piece, to=place, boutique=boutique, at=datetime(2026, 3, day, 9, tzinfo=UTC), by=None)
    assert found(signed_in("boutique", own.code), "FH21-00000") == ["FH21-000003"]
    assert found(signed_in("boutique", BoutiqueFactory().code), "FH21-00000") == []


def test_a_stolen_piece_tells_a_counter_nothing_of_its_owner(signed_in: Callable[..., Client]) -> None:
    boutique = BoutiqueFactory()
    owner = OwnerFactory(name="Ada Winter", phone="+44 20 7946 0456", email="ada@owners.example")
    piece = PieceFactory(boutique=boutique, owner=owner, status="stolen")
    counter = signed_in("boutique", boutique.code)
    for page in (f"/pieces/{piece.pk}/", f"/search/?q={piece.serial[:8]}"):
        text = counter.get(page).content.decode()
        assert "tolen" in text
        assert not [word for word in ("Ada Winter", "7946", "ada@owners") if word in text]
    assert "Ada Winter" in signed_in("desk").get(f"/pieces/{piece.pk}/").content.decode()


@pytest.mark.parametrize("typed", ["", " ", "x", "%%", "**", "[a", "' OR 1=1 --", "\\", "₩" * 500, "\x00ab"])
def test_odd_input_finds_nothing_and_breaks_nothing(signed_in: Callable[..., Client], typed: str) -> None:
    PieceFactory()
    response = signed_in("desk").get("/search/", {"q": typed})
    assert response.status_code == 200
    assert response.context["rows"] == []


def test_a_search_costs_the_same_however_many_it_finds(
    signed_in: Callable[..., Client], django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    for number in range(40):
        PieceFactory(serial=f"FH21-7{number:05d}", owner=OwnerFactory(name="Ada Winter"))
    desk = signed_in("desk")
    desk.get("/search/")  # the first page of a session also notes when it began
    with django_assert_max_num_queries(8):  # session, person, and six of the search
        response = desk.get("/search/", {"q": "FH21-7"})
    assert (len(response.context["rows"]), response.context["more"]) == (25, True)


def test_the_desk_finds_an_owner_of_whom_the_book_has_no_piece_and_a_counter_does_not(
    signed_in: Callable[..., Client],
) -> None:
    boutique = BoutiqueFactory()
    PieceFactory(serial="FH21-004712", boutique=boutique, owner=OwnerFactory(name="Ada Winter"))
    alone = OwnerFactory(name="Bede Winter")
    page = signed_in("desk").get("/search/", {"q": "winter"})
    assert [owner.pk for owner in page.context["owners"]] == [alone.pk]
    assert f"/owners/of/{alone.pk}/" in page.content.decode()
    assert signed_in("boutique", boutique.code).get("/search/", {"q": "winter"}).context["owners"] == []


def test_a_whole_email_address_finds_its_owner_s_pieces_however_it_is_written(signed_in: Callable[..., Client]) -> None:
    PieceFactory(serial="FH21-004712", owner=OwnerFactory(email="Ada@owners.example"))
    PieceFactory(serial="FH21-004713", owner=OwnerFactory(email="bede@owners.example"))
    assert found(signed_in("desk"), " ada@OWNERS.example") == ["FH21-004712"]


def test_the_list_and_the_piece_answer_where_until_when_and_for_how_much(
    signed_in: Callable[..., Client], django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    order = order_in_the_house(serial="FH21-004712", name="Ada Winter", promised_on=date(2026, 2, 3))
    OrderEstimate.objects.create(
        form_key=uuid4(), order=order, lines=[], total="480.00", currency="GBP", valid_until=date(2026, 4, 9),
        made_on=date(2026, 3, 2), made_at=datetime(2026, 3, 2, tzinfo=UTC), made_by=order.opened_by,
    )  # fmt: skip
    desk = signed_in("desk")
    [row] = desk.get("/search/", {"q": "winter"}).context["rows"]
    assert (row["order"]["number"], row["order"]["late"], row["order"]["costs"]) == (order.number, 35, "£480.00")
    text = words_of(desk, f"/pieces/{order.piece_id}/")
    assert "promised, 35 days late" in text
    assert "£480.00 estimated, not agreed yet" in text
    assert "Promised" in words_of(desk, f"/owners/of/{order.owner_id}/")
    with django_assert_max_num_queries(10):
        desk.get("/search/", {"q": "winter"})


def order_in_the_house(*, serial: str, name: str, promised_on: date) -> WorkOrder:
    piece = PieceFactory(serial=serial, owner=OwnerFactory(name=name), place="workshop")
    return WorkOrder.objects.create(
        number="R-260201-01", piece=piece, owner=piece.owner, boutique=piece.boutique, kind="overhaul",
        opened_on=date(2026, 2, 1), opened_at=datetime(2026, 2, 1, tzinfo=UTC), opened_by=StaffFactory(),
        promised_on=promised_on, step="estimated", step_since=datetime(2026, 3, 2, tzinfo=UTC),
    )  # fmt: skip
