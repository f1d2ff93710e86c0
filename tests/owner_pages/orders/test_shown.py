"""The page behind the link of a letter about an order: what it shows, to whom, and what it costs."""

from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from service_center.access.models import Staff
from service_center.bench.orders import telling
from service_center.bench.orders.actions import hand_back_order
from service_center.book.models import Piece
from service_center.letters.models import Letter, OwnerLink
from service_center.owner_pages.copying import copy_of
from service_center.workshop.models import EstimateAnswer
from service_center.workshop.orders.rules.answers import Heard
from tests.factories import OwnerFactory, PieceFactory
from tests.owner_pages.conftest import NOW, TODAY, Sent, open_pages, send_about, words_of
from tests.owner_pages.orders.asking import Told, ask, looked_at, made_ready, press
from tests.owner_pages.test_data import text_of_pdf

pytestmark = pytest.mark.django_db


def test_the_letter_shows_nothing_of_another_owners_order_however_its_address_is_altered(
    client: Client, piece: Piece, staff: Staff, told: Callable[[], Told]
) -> None:
    ask(looked_at(piece, staff), staff)
    letter = told()
    theirs = PieceFactory(owner=OwnerFactory(), boutique=piece.boutique)
    other = ask(looked_at(theirs, staff, "R-000043"), staff)
    open_pages(client, Sent(Letter.objects.first(), letter.address.split("/")[2], ""))  # type: ignore[arg-type]
    assert press(client, letter, other, "agree").status_code == 404
    assert client.get(f"{letter.address}estimate/{other.pk}/").status_code == 404
    assert client.get(f"{letter.address}watch/{theirs.pk}/").status_code == 404
    assert not EstimateAnswer.objects.exists()


def test_a_piece_that_changed_hands_shows_its_former_owner_nothing_any_more(
    client: Client, piece: Piece, staff: Staff, told: Callable[[], Told]
) -> None:
    estimate = ask(looked_at(piece, staff), staff)
    letter = told()
    Piece.objects.filter(pk=piece.pk).update(owner=OwnerFactory())
    text = words_of(client, letter.address)
    assert "In our book the watch of this letter is no longer yours" in text
    assert piece.serial not in text
    assert press(client, letter, estimate, "agree").status_code == 404


def test_the_piece_s_page_of_an_earlier_letter_shows_the_estimate_and_takes_the_answer(
    client: Client, sent: Sent, piece: Piece, staff: Staff
) -> None:
    estimate = ask(looked_at(piece, staff), staff)
    assert "see on its own page how it stands and whether an estimate waits" in words_of(client, sent.address)
    open_pages(client, sent)
    page = f"{sent.address}watch/{piece.pk}/"
    text = words_of(client, page)
    assert "We have written an estimate, and wait for your answer. Promised for 25 June 2026." in text
    assert "Hairspring A fault of manufacture. £95.00 covered" in text
    answer = client.post(f"{sent.address}estimate/{estimate.pk}/answer/", {"answer": "agree"})
    assert answer["Location"] == f"{page}?answered#estimate"
    assert "You agreed on 5 June 2026." in words_of(client, page)
    paper = client.get(f"{sent.address}estimate/{estimate.pk}/")
    assert "480" in text_of_pdf(paper.content)


def test_an_order_costs_an_owners_page_a_fixed_number_of_statements(
    client: Client, sent: Sent, piece: Piece, staff: Staff
) -> None:
    order = looked_at(piece, staff)
    ask(order, staff)
    open_pages(client, sent)
    words_of(client, f"{sent.address}watch/{piece.pk}/")
    with CaptureQueriesContext(connection) as one:
        words_of(client, f"{sent.address}watch/{piece.pk}/")
    for _ in range(3):
        ask(order, staff)
    with CaptureQueriesContext(connection) as four:
        words_of(client, f"{sent.address}watch/{piece.pk}/")
    assert len(one) == len(four) <= 40


def test_an_order_that_is_over_says_when_the_watch_was_handed_back(
    client: Client, piece: Piece, staff: Staff, told: Callable[[], Told]
) -> None:
    order = looked_at(piece, staff)
    ask(order, staff)
    ready = telling.bring_back(made_ready(order, staff), on=TODAY, at=NOW, by=staff)
    letter = told()
    hand_back_order(ready, on=TODAY, at=NOW, by=staff, as_of=TODAY)
    assert "Your watch was handed back to you on 5 June 2026." in words_of(client, letter.address)


def test_the_link_opens_its_letter_and_no_way_to_stop_others(
    piece: Piece, staff: Staff, told: Callable[[], Told]
) -> None:
    ask(looked_at(piece, staff), staff)
    told()
    assert list(OwnerLink.objects.values_list("purpose", "letter__sort")) == [("page", "order")]


def test_the_page_of_an_invitation_says_nothing_of_an_order_it_is_not_about(
    client: Client, piece: Piece, staff: Staff
) -> None:
    other = PieceFactory(owner=piece.owner, boutique=piece.boutique)
    sent = send_about(other)
    estimate = ask(looked_at(piece, staff), staff)
    open_pages(client, sent)
    assert client.post(f"{sent.address}estimate/{estimate.pk}/answer/", {"answer": "agree"}).status_code == 404


def test_a_copy_of_ones_data_has_the_order_its_estimate_and_the_answer(piece: Piece, staff: Staff) -> None:
    assert piece.owner
    estimate = ask(looked_at(piece, staff), staff)
    telling.hear_answer(estimate, agreed=True, heard=Heard.PAGE, heard_by=None, on=TODAY, at=NOW)
    [order] = copy_of(piece.owner, now=NOW)["orders"]
    [told] = order["estimates"]
    assert (order["number"], order["step"], told["total"]) == ("R-000042", "agreed", "480.00")
    assert told["answer"] == {"agreed": True, "said_on": "2026-06-05", "heard": "page", "your_words": ""}
