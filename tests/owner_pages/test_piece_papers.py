"""Photographs and the service report, behind a letter's link: the owner's own, and nobody else's."""

from datetime import UTC, date, datetime
from decimal import Decimal
from io import BytesIO
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from service_center.book.models import Piece
from service_center.intake.actions import take_in
from service_center.intake.drafts.actions import begin
from service_center.intake.models import DropOff, Photograph
from service_center.intake.photographs.actions import add_photograph
from service_center.intake.rules import Asked
from service_center.measurements.actions import record_sheet
from service_center.measurements.rules import Reading, Wind
from tests.factories import BoutiqueFactory, OwnerFactory, StaffFactory
from tests.owner_pages.conftest import Sent, open_pages, send_about, words_of
from tests.owner_pages.test_data import text_of_pdf
from tests.pictures import jpeg
from tests.workshop.hands import bring_through

pytestmark = pytest.mark.django_db


def at(day: date, hour: int = 9) -> datetime:
    return datetime(day.year, day.month, day.day, hour, tzinfo=UTC)


def bring(piece: Piece, on: date = date(2026, 5, 20), photographs: int = 2, asked: Asked = Asked.OVERHAUL) -> DropOff:
    boutique, staff = piece.boutique or BoutiqueFactory(), StaffFactory()
    draft = begin(piece, boutique, by=staff, at=at(on))
    for number in range(photographs):
        add_photograph(draft, BytesIO(jpeg((80 + number, 60))), size=1000, by=staff, at=at(on))
    return take_in(
        piece,
        form_key=draft.key,
        boutique=boutique,
        by=staff,
        taken_on=on,
        at=at(on),
        as_of=on,
        asked=[asked],
        owner_says="",
        left_with="",
        sitting=None,
        draft=draft,
    )


def read(piece: Piece, on: date) -> None:
    reading = Reading("CH", Wind.FULL, Decimal("3.0"), Decimal(290), None)
    record_sheet(piece, [reading], taken_on=on, by=StaffFactory(), form_key=uuid4())


def give_back(piece: Piece, on: date) -> None:
    piece.refresh_from_db()
    bring_through(piece, on)


def page(sent: Sent, piece: Piece) -> str:
    return f"{sent.address}watch/{piece.pk}/"


def picture(sent: Sent, photograph: Photograph) -> str:
    return f"{sent.address}photograph/{photograph.key}/"


def test_the_photographs_of_a_drop_off_are_shown_to_who_brought_the_piece(
    client: Client, sent: Sent, piece: Piece
) -> None:
    bring(piece)
    open_pages(client, sent)
    assert "Photographs of 20 May 2026" in words_of(client, page(sent, piece))
    shown = client.get(page(sent, piece)).content.decode()
    for one in Photograph.objects.all():
        assert f"{picture(sent, one)}?size=small" in shown
        answer = client.get(picture(sent, one))
        assert answer["Content-Type"] == "image/jpeg"
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert "no-store" in answer["Cache-Control"]
        assert answer.content.startswith(b"\xff\xd8")


def test_without_the_button_a_photograph_or_a_report_is_not_shown(client: Client, sent: Sent, piece: Piece) -> None:
    drop_off = bring(piece, photographs=1)
    for address in (picture(sent, Photograph.objects.get()), f"{sent.address}report/{drop_off.pk}/"):
        answer = client.get(address)
        assert answer["Content-Type"].startswith("text/html")
        assert b"\xff\xd8" not in answer.content


def test_an_earlier_owners_photographs_and_report_are_not_there(client: Client, piece: Piece) -> None:
    before = bring(piece, date(2025, 3, 3))
    read(piece, date(2025, 3, 8))
    give_back(piece, date(2025, 3, 9))
    piece.refresh_from_db()
    piece.owner = OwnerFactory()
    piece.save()
    sent = send_about(piece)
    open_pages(client, sent)
    text = words_of(client, page(sent, piece))
    assert "Photographs of" not in text
    assert "Service report for" not in text
    assert client.get(f"{sent.address}report/{before.pk}/").status_code == 404
    for one in Photograph.objects.all():
        assert client.get(picture(sent, one)).status_code == 404


def test_photographs_of_a_drop_off_that_is_not_finished_are_not_shown(client: Client, sent: Sent, piece: Piece) -> None:
    staff = StaffFactory()
    draft = begin(piece, piece.boutique, by=staff, at=at(date(2026, 6, 1)))  # type: ignore[arg-type]
    one = add_photograph(draft, BytesIO(jpeg()), size=1000, by=staff, at=at(date(2026, 6, 1)))
    open_pages(client, sent)
    assert client.get(picture(sent, one)).status_code == 404


def test_the_service_report_is_there_once_the_piece_went_back(client: Client, sent: Sent, piece: Piece) -> None:
    drop_off = bring(piece)
    read(piece, date(2026, 5, 30))
    open_pages(client, sent)
    report = f"{sent.address}report/{drop_off.pk}/"
    assert client.get(report).status_code == 404  # the work may still change what it says
    give_back(piece, date(2026, 6, 1))
    assert f"Service report for {drop_off.number}" in words_of(client, page(sent, piece))
    answer = client.get(report)
    assert answer["Content-Disposition"] == f'attachment; filename="{drop_off.number}-report.pdf"'
    text = text_of_pdf(answer.content)
    assert drop_off.number in text
    assert piece.serial in text


def test_a_new_strap_needs_no_readings_and_has_no_report(client: Client, sent: Sent, piece: Piece) -> None:
    drop_off = bring(piece, asked=Asked.STRAP)
    give_back(piece, date(2026, 6, 1))
    open_pages(client, sent)
    assert "Service report for" not in words_of(client, page(sent, piece))
    assert client.get(f"{sent.address}report/{drop_off.pk}/").status_code == 404


def test_what_an_owner_brought_often_costs_no_more_statements(client: Client, sent: Sent, piece: Piece) -> None:
    bring(piece, date(2026, 5, 2))
    give_back(piece, date(2026, 5, 3))
    open_pages(client, sent)
    words_of(client, page(sent, piece))
    with CaptureQueriesContext(connection) as for_little:
        words_of(client, page(sent, piece))
    for day in (6, 12):
        piece.refresh_from_db()
        bring(piece, date(2026, 5, day))
        give_back(piece, date(2026, 5, day + 1))
    with CaptureQueriesContext(connection) as for_much:
        words_of(client, page(sent, piece))
    assert len(for_much) == len(for_little) <= 40
