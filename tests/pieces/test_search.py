"""One box finds a piece by its serial, its owner's name or telephone, within what the asker may see."""

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from service_center.book.actions import move_piece
from service_center.book.rules import Place
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory

pytestmark = pytest.mark.django_db


def found(client: Client, text: str) -> list[str]:
    return [row[0].serial for row in client.get("/search/", {"q": text}).context["rows"]]


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
