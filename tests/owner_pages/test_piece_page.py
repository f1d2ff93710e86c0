"""One piece as its owner follows it: its past, its papers, where it is, and the extended guarantee."""

from datetime import UTC, date, datetime
from decimal import Decimal
from uuid import uuid4

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from service_center.book.actions import move_piece, strike_entry
from service_center.book.models import Piece
from service_center.book.rules import Place
from service_center.guarantee.models import ExtensionEnrolment
from service_center.intake.actions import Sitting, take_in
from service_center.intake.models import DropOff
from service_center.intake.rules import Asked
from service_center.measurements.actions import record_sheet
from service_center.measurements.rules import Reading, Wind
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, StaffFactory, history
from tests.owner_pages.conftest import NOW, Sent, open_pages, send_about, words_of
from tests.workshop.hands import bring_through

pytestmark = pytest.mark.django_db


def page(sent: Sent, piece: Piece) -> str:
    return f"{sent.address}watch/{piece.pk}/"


def bring(piece: Piece, on: date = date(2026, 6, 3), readings: tuple[Reading, ...] = ()) -> DropOff:
    boutique = piece.boutique or BoutiqueFactory()
    return take_in(
        piece,
        form_key=uuid4(),
        boutique=boutique,
        by=StaffFactory(role="boutique", boutique=boutique.code),
        taken_on=on,
        at=datetime(on.year, on.month, on.day, 9, tzinfo=UTC),
        as_of=on,
        asked=[Asked.REPAIR],
        owner_says="It stops at night.",
        left_with="",
        sitting=Sitting(readings) if readings else None,
    )


def read_at_work(piece: Piece, on: date) -> None:
    """A sitting at the timing machine while the piece is in the house."""
    record_sheet(piece, [Reading("CH", Wind.FULL, Decimal("5.0"), None, None)], taken_on=on, by=StaffFactory())


def test_what_was_done_is_told_without_names_or_notes_of_the_house(client: Client, sent: Sent, piece: Piece) -> None:
    history(piece, "2023-03-02", note="Customer was rude. Ask Bertram.", recorded_by=StaffFactory(username="bertram"))
    history(piece, "2024-04-04", kind="tightness_check", tightness="failed")
    history(piece, "2025-05-05", kind="repair", done_by="outside", accepted=False, tightness="not_tested")
    open_pages(client, sent)
    text = words_of(client, page(sent, piece))
    for told in ("2 March 2023", "Done in our workshop.", "It passed the tightness test.", "4 April 2024"):
        assert told in text
    assert "It did not pass the tightness test. Keep it out of water" in text
    assert "Done elsewhere; we have not seen a document." in text
    for kept in ("rude", "bertram", "Bertram"):
        assert kept not in text


def test_an_entry_that_was_struck_or_corrected_is_not_told(client: Client, sent: Sent, piece: Piece) -> None:
    never = history(piece, "2023-03-02")
    strike_entry(never, reason="Another piece.", by=None)
    wrong = history(piece, "2024-04-04", kind="repair")
    history(piece, "2024-04-05", kind="battery", voids=wrong)
    open_pages(client, sent)
    text = words_of(client, page(sent, piece))
    assert "2 March 2023" not in text
    assert "4 April 2024" not in text
    assert "5 April 2024" in text


def test_a_piece_is_followed_from_the_counter_to_the_workshop_and_back(
    client: Client, sent: Sent, piece: Piece
) -> None:
    open_pages(client, sent)
    assert "it is with you" in words_of(client, page(sent, piece))
    drop_off = bring(piece)
    text = words_of(client, page(sent, piece))
    assert "Your watch has been at our boutique Harrowmere since 3 June 2026." in text
    assert f"the number on your receipt is {drop_off.number}." in text
    piece.refresh_from_db()
    at = datetime(2026, 6, 4, 9, tzinfo=UTC)
    move_piece(piece, to=Place.WORKSHOP, boutique=None, at=at, by=None)
    assert "Your watch has been in our workshop since 4 June 2026." in words_of(client, page(sent, piece))
    bring_through(piece, date(2026, 6, 5))
    text = words_of(client, page(sent, piece))
    assert "it is with you" in text
    assert "Handed back to you" in text
    assert "the number on your receipt" not in text


def test_readings_are_told_in_words_an_owner_understands(client: Client, sent: Sent, piece: Piece) -> None:
    readings = (
        Reading("CH", Wind.FULL, Decimal("5.0"), Decimal(281), Decimal("0.2")),
        Reading("6H", Wind.FULL, Decimal("-1.0"), None, None),
    )
    bring(piece, readings=readings)
    open_pages(client, sent)
    text = words_of(client, page(sent, piece))
    assert "Over the 2 positions we read it gained 2.0 seconds a day on average." in text
    assert "Dial up, Fully wound rate +5.0 seconds a day; amplitude 281 degrees; beat error 0.20 milliseconds" in text
    assert "6 o'clock up, Fully wound rate −1.0 seconds a day" in text.replace("&#x27;", "'")


def test_a_receipt_is_a_file_for_who_brought_the_piece(client: Client, sent: Sent, piece: Piece) -> None:
    drop_off = bring(piece)
    open_pages(client, sent)
    assert f"Receipt {drop_off.number} of 3 June 2026" in words_of(client, page(sent, piece))
    paper = client.get(f"{sent.address}receipt/{drop_off.pk}/")
    assert paper["Content-Type"] == "application/pdf"
    assert paper.content.startswith(b"%PDF-")
    assert paper["Content-Disposition"] == f'attachment; filename="{drop_off.number}.pdf"'
    assert "no-store" in paper["Cache-Control"]


def test_a_receipt_of_the_owner_before_is_not_there_nor_are_their_readings(client: Client, piece: Piece) -> None:
    before = bring(piece, date(2025, 3, 3), (Reading("CH", Wind.FULL, Decimal("9.0"), None, None),))
    piece.refresh_from_db()
    read_at_work(piece, date(2025, 3, 8))
    move_piece(piece, to=Place.OWNER, boutique=None, at=datetime(2025, 3, 9, tzinfo=UTC), by=None)
    piece.owner = OwnerFactory()
    piece.save()
    sent = send_about(piece)
    open_pages(client, sent)
    text = words_of(client, page(sent, piece))
    assert before.number not in text
    assert "Its rate was read" not in text
    assert "Handed back to you" not in text
    assert client.get(f"{sent.address}receipt/{before.pk}/").status_code == 404


def test_the_page_costs_as_many_statements_for_much_as_for_little(client: Client, sent: Sent, piece: Piece) -> None:
    open_pages(client, sent)
    words_of(client, page(sent, piece))
    with CaptureQueriesContext(connection) as for_little:
        words_of(client, page(sent, piece))
    for number in range(12):
        history(piece, f"2025-{number + 1:02}-02", kind="strap")
    with CaptureQueriesContext(connection) as for_much:
        words_of(client, page(sent, piece))
    assert len(for_much) == len(for_little) <= 25


# --- the extended guarantee -------------------------------------------------------------------------------


def sold(piece: Piece, on: str) -> Sent:
    piece.sold_on = date.fromisoformat(on)
    piece.save()
    return send_about(piece)


@pytest.mark.parametrize(
    ("last_day", "at"), [("2024-06-05", NOW), ("2024-02-29", datetime(2026, 2, 28, 22, tzinfo=UTC))]
)
def test_on_the_last_day_of_the_base_one_button_registers_the_extension(
    client: Client, piece: Piece, last_day: str, at: datetime
) -> None:
    sent = sold(piece, last_day)
    with time_machine.travel(at, tick=False):
        open_pages(client, sent)
        text = words_of(client, page(sent, piece))
        assert "that day included. It then runs to" in text
        assert "damage by water after a check that was missed is not covered" in text
        again = [client.post(f"{page(sent, piece)}extension/") for _ in range(2)]
        assert [answer.status_code for answer in again] == [302, 302]
        text = words_of(client, page(sent, piece))
    assert "The extended guarantee was registered on" in text
    kept = ExtensionEnrolment.objects.get(piece=piece)
    assert kept.enrolled_on == at.date()
    assert "It covers faults of manufacture." in kept.conditions
    assert kept.language == "en"


def test_an_extension_that_is_over_is_said_once_and_does_not_run(client: Client, piece: Piece) -> None:
    piece.extension_enrolled_on = date(2014, 7, 25)
    sent = sold(piece, "2014-07-23")
    open_pages(client, sent)
    text = words_of(client, page(sent, piece))
    assert "The extended guarantee ended on 23 July 2022." in text
    assert "It runs to" not in text


@pytest.mark.parametrize(
    ("sold_on", "why"),
    [
        ("2024-06-04", "this was possible until 4 June 2026, the last day of the guarantee"),
        (None, "we do not know the day of sale"),
    ],
)
def test_afterwards_it_is_refused_with_the_reason(client: Client, piece: Piece, sold_on: str | None, why: str) -> None:
    piece.sold_on = date.fromisoformat(sold_on) if sold_on else None
    piece.save()
    sent = send_about(piece)
    open_pages(client, sent)
    text = words_of(client, page(sent, piece))
    assert why in text
    assert "Register the extended guarantee" not in text
    refused = client.post(f"{page(sent, piece)}extension/")
    assert refused.status_code == 409
    assert why in refused.content.decode()
    piece.refresh_from_db()
    assert piece.extension_enrolled_on is None


def test_the_last_day_is_that_of_the_owner_s_clock(client: Client, piece: Piece) -> None:
    """At 22:00 UTC of the 28th it is the first of March in Japan: a day too late there, though not in London."""
    piece.owner = OwnerFactory(time_zone="Asia/Tokyo", country="JP")
    piece.save()
    sent = sold(piece, "2024-02-29")
    with time_machine.travel(datetime(2026, 2, 28, 22, tzinfo=UTC), tick=False):
        open_pages(client, sent)
        assert client.post(f"{page(sent, piece)}extension/").status_code == 409


def test_a_look_at_the_address_of_the_button_registers_nothing(client: Client, piece: Piece) -> None:
    sent = sold(piece, "2025-01-10")
    open_pages(client, sent)
    assert client.get(f"{page(sent, piece)}extension/").status_code == 302
    assert not ExtensionEnrolment.objects.exists()


def test_a_piece_that_has_been_sold_on_shows_nothing_any_more(client: Client, sent: Sent, piece: Piece) -> None:
    history(piece, "2023-03-02")
    open_pages(client, sent)
    assert client.get(page(sent, piece)).status_code == 200
    piece.owner = OwnerFactory()
    piece.save()
    assert client.get(page(sent, piece)).status_code == 404
    assert client.post(f"{page(sent, piece)}extension/").status_code == 404
    assert piece.serial not in words_of(client, sent.address)


def test_another_piece_of_the_same_owner_is_not_behind_this_letter(client: Client, sent: Sent, piece: Piece) -> None:
    """A letter's link opens a page about its own pieces only (design/letters.md)."""
    other = PieceFactory(owner=piece.owner)
    open_pages(client, sent)
    assert client.get(page(sent, other)).status_code == 404
