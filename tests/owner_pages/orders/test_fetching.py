"""Word that a piece can be fetched: once, and only while that is so."""

from collections.abc import Callable

import pytest
from django.test import Client

from service_center.access.models import Staff
from service_center.bench.orders import telling
from service_center.bench.orders.actions import hand_back_order
from service_center.book.models import Piece
from service_center.letters.models import Letter
from service_center.workshop.orders.rules.steps import Step
from tests.letters.sink import MailSink
from tests.owner_pages.conftest import NOW, TODAY, Sent, open_pages, words_of
from tests.owner_pages.orders.asking import WORDS_ABOUT, Told, ask, looked_at, made_ready, send

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("language", sorted(WORDS_ABOUT))
def test_the_owner_is_told_once_that_the_piece_can_be_fetched(
    client: Client, piece: Piece, staff: Staff, told: Callable[[], Told], sink: MailSink, language: str
) -> None:
    assert piece.owner
    piece.owner.language = language
    piece.owner.save()
    order = looked_at(piece, staff)
    ask(order, staff)
    ready = made_ready(order, staff)
    send()
    assert sink.messages == []  # it is at the workshop still
    for _ in range(2):
        telling.bring_back(ready, on=TODAY, at=NOW, by=staff)
    letter = told()
    assert len(sink.messages) == 1
    assert WORDS_ABOUT[language][3] in letter.mail.subject
    assert "R-000042" in letter.mail.text
    assert "Harrowmere" in letter.mail.text
    assert "Harrowmere" in words_of(client, letter.address)


def test_a_piece_that_went_back_to_the_owner_or_to_the_bench_is_not_called_ready(
    piece: Piece, staff: Staff, sink: MailSink
) -> None:
    order = looked_at(piece, staff)
    ask(order, staff)
    ready = telling.bring_back(made_ready(order, staff), on=TODAY, at=NOW, by=staff)
    telling.move_on(ready, Step.DIAGNOSED, on=TODAY, at=NOW, by=staff, reason="A mark on the glass.")
    send()
    assert sink.messages == []


def test_handed_back_before_the_letter_left_it_says_nothing(piece: Piece, staff: Staff, sink: MailSink) -> None:
    order = looked_at(piece, staff)
    ask(order, staff)
    ready = telling.bring_back(made_ready(order, staff), on=TODAY, at=NOW, by=staff)
    hand_back_order(ready, on=TODAY, at=NOW, by=staff, as_of=TODAY)
    send()
    assert sink.messages == []


def test_a_look_at_the_page_shows_no_estimate_that_its_letter_does_not_speak_of(
    client: Client, piece: Piece, staff: Staff, told: Callable[[], Told]
) -> None:
    """Scanners follow links: prices and findings are behind the step, on the watch's own page."""
    order = looked_at(piece, staff)
    ask(order, staff, note="The hairspring is bent.")
    telling.bring_back(made_ready(order, staff), on=TODAY, at=NOW, by=staff)
    letter = told()
    text = words_of(client, letter.address)
    kept = ("Estimate of", "480", "Hairspring", "The hairspring is bent.", "You declined")
    assert [one for one in kept if one in text] == []
    open_pages(client, Sent(Letter.objects.get(order_word__news="ready"), letter.address.split("/")[2], ""))
    text = words_of(client, f"{letter.address}watch/{piece.pk}/")
    assert [one for one in kept if one not in text] == []
