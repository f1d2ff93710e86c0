"""A piece's page: what is due and why, the guarantee, and everything that happened."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from service_center.book.actions import move_piece
from service_center.book.models import Piece
from service_center.book.rules import Place
from service_center.letters.models import Answer, Letter
from service_center.measurements.actions import record_sheet
from service_center.measurements.rules import Reading, Wind
from service_center.pieces.timeline import timeline
from tests.factories import PieceFactory, history

pytestmark = pytest.mark.django_db


def page(client: Client, piece: Piece) -> str:
    return client.get(f"/pieces/{piece.pk}/").content.decode()


def test_the_page_says_what_is_due_when_and_why(piece: Piece, signed_in: Callable[..., Client]) -> None:
    text = page(signed_in("desk"), piece)
    assert 'datetime="2026-05-17"' in text
    assert "state--in_window" in text
    assert "Counted from the sale on 17 May 2019" in text


def test_the_page_says_what_the_guarantee_covers(piece: Piece, signed_in: Callable[..., Client]) -> None:
    text = page(signed_in("desk"), piece)
    assert "The guarantee ended on" in text
    assert "not limited by it" in text, "the law's own rights stand beside it"


def test_everything_that_happened_stands_in_one_line_of_days(piece: Piece, letter_about: Callable[..., Letter]) -> None:
    history(piece, "2022-02-02", kind="repair", tightness="failed", note="Crystal replaced.")
    readings = [Reading("CH", Wind.FULL, Decimal("4.5"), Decimal(281), Decimal("0.2"))]
    record_sheet(piece, readings, taken_on=date(2022, 2, 1), by=None)
    letter_about(state="sent")
    Answer.objects.create(owner=piece.owner, piece=piece, choice="not_now", said_on=date(2026, 3, 10))
    at = datetime(2022, 1, 31, 9, tzinfo=UTC)
    move_piece(piece, to=Place.BOUTIQUE, boutique=piece.boutique, at=at, by=None)
    moments = timeline(piece, date(2026, 3, 10)).known
    assert [(str(moment.on), moment.what) for moment in moments] == [
        ("2026-03-10", "Answer: not now"),
        ("2026-03-10", "Letter: invitation, overhaul"),
        ("2022-02-02", "Repair"),
        ("2022-02-01", "Timing, 1 reading"),
        ("2022-01-31", "Taken in at Harrowmere"),
        ("2019-05-17", "Sold"),
        ("2018-11-05", "Made"),
    ]
    assert moments[2].details == ["our own workshop", "case opened", "tightness: failed"]
    assert moments[3].readings == ["CH +4.5 s/d 281° 0.20 ms".replace(" ", "\u00a0")]


def test_a_piece_that_comes_back_from_the_workshop_is_not_taken_in_a_second_time(piece: Piece) -> None:
    days = [(Place.BOUTIQUE, 1), (Place.WORKSHOP, 3), (Place.BOUTIQUE, 20), (Place.OWNER, 22)]
    for place, day in days:
        boutique = piece.boutique if place is Place.BOUTIQUE else None
        move_piece(piece, to=place, boutique=boutique, at=datetime(2026, 3, day, 9, tzinfo=UTC), by=None)
    moments = timeline(piece, date(2026, 3, 31)).known
    assert [moment.what for moment in moments][:4] == [
        "Handed back to the owner",
        "Back at Harrowmere from the workshop",
        "Came to the workshop",
        "Taken in at Harrowmere",
    ]


def test_a_piece_about_which_nothing_is_known_still_has_a_page(signed_in: Callable[..., Client]) -> None:
    piece = PieceFactory(model=None, owner=None, boutique=None, made_on=None, sold_on=None, use="", status="")
    text = page(signed_in("desk"), piece)
    assert "No owner is on record." in text
    assert "no start is known" in text.lower()


def test_text_from_the_book_is_inert_on_the_page(piece: Piece, signed_in: Callable[..., Client]) -> None:
    history(piece, "2022-02-02", note="<script>alert(1)</script>{{ 7|add:7 }}")
    text = page(signed_in("desk"), piece)
    assert "&lt;script&gt;alert(1)" in text
    assert "{{ 7|add:7 }}" in text


def test_a_long_history_costs_no_more_statements_than_a_short_one(
    piece: Piece, signed_in: Callable[..., Client]
) -> None:
    desk = signed_in("desk")
    page(desk, piece)  # the first page of a session also notes when it began
    with CaptureQueriesContext(connection) as short:
        page(desk, piece)
    for year in range(2020, 2026):
        history(piece, f"{year}-02-02")
        record_sheet(piece, [Reading("CH", Wind.FULL, Decimal(1), None, None)], taken_on=date(year, 2, 1), by=None)
    with CaptureQueriesContext(connection) as long:
        page(desk, piece)
    readings = 1  # a sheet's readings are asked for where there is a sheet
    assert len(long) == len(short) + readings
