"""An estimate goes to its owner once, and is answered once: agreed to, declined, run out, replaced."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.test import Client

from service_center.access.models import Staff
from service_center.bench.orders import telling
from service_center.book.models import Piece
from service_center.letters.models import Letter
from service_center.workshop.models import EstimateAnswer, WorkOrder
from service_center.workshop.orders.actions import EstimateLine
from service_center.workshop.orders.rules.answers import Heard
from tests.letters.sink import MailSink
from tests.owner_pages.conftest import NOW, TODAY, words_of
from tests.owner_pages.orders.asking import WORDS_ABOUT, Told, ask, looked_at, press, send
from tests.owner_pages.test_data import text_of_pdf

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("language", sorted(WORDS_ABOUT))
def test_an_estimate_goes_once_in_the_owners_language_and_is_agreed_to_by_a_button(
    client: Client, piece: Piece, staff: Staff, told: Callable[[], Told], sink: MailSink, language: str
) -> None:
    assert piece.owner
    piece.owner.language = language
    piece.owner.save()
    subject, button, agreed, _ready = WORDS_ABOUT[language]
    estimate = ask(looked_at(piece, staff), staff)
    letter = told()
    send()
    assert len(sink.messages) == 1
    assert subject in letter.mail.subject
    assert letter.mail.parsed["Content-Language"] == language
    assert letter.mail.parsed["List-Unsubscribe"] is None  # no advertising: there is nothing to stop
    [paper] = [one for one in letter.mail.parsed.iter_attachments() if one.get_content_type() == "application/pdf"]
    assert piece.serial in text_of_pdf(paper.get_content())
    assert button in words_of(client, letter.address)
    assert press(client, letter, estimate, "agree").status_code == 302
    assert agreed in words_of(client, letter.address)
    assert WorkOrder.objects.get().step == "agreed"


def test_a_look_changes_nothing_and_a_second_press_is_the_same_answer(
    client: Client, piece: Piece, staff: Staff, told: Callable[[], Told], snapshot: Callable[[], dict[str, Any]]
) -> None:
    estimate = ask(looked_at(piece, staff), staff)
    letter = told()
    before = snapshot()
    words_of(client, letter.address)
    assert client.get(f"{letter.address}estimate/{estimate.pk}/answer/?answer=agree").status_code == 302
    assert snapshot() == before
    for _ in range(2):
        press(client, letter, estimate, "agree")
    assert list(EstimateAnswer.objects.values_list("agreed", "heard", "heard_by")) == [(True, "page", None)]


def test_a_decline_is_kept_with_its_day_and_another_answer_after_it_is_refused_in_words(
    client: Client, piece: Piece, staff: Staff, told: Callable[[], Told]
) -> None:
    estimate = ask(looked_at(piece, staff), staff)
    letter = told()
    press(client, letter, estimate, "decline")
    text = words_of(client, letter.address)
    assert "You declined on 5 June 2026." in text
    assert "Agree:" not in text
    refused = press(client, letter, estimate, "agree")
    assert refused.status_code == 409
    assert "You answered this estimate before" in refused.content.decode()


def test_after_its_last_day_an_estimate_can_be_declined_and_not_agreed_to(
    client: Client, piece: Piece, staff: Staff, told: Callable[[], Told]
) -> None:
    estimate = ask(looked_at(piece, staff), staff, until=TODAY)
    letter = told()
    assert "Agree: £480.00" in words_of(client, letter.address)
    with time_machine.travel(NOW + timedelta(days=1), tick=False):
        text = words_of(client, letter.address)
        assert "This estimate was valid until 5 June 2026." in text
        assert "Agree:" not in text
        refused = press(client, letter, estimate, "agree")
        assert (refused.status_code, WorkOrder.objects.get().step) == (409, "estimated")
        assert "it is no longer valid" in refused.content.decode()
        press(client, letter, estimate, "decline")
    assert WorkOrder.objects.get().step == "declined"


def test_an_estimate_that_was_replaced_is_told_and_the_newer_one_stands_there(
    client: Client, piece: Piece, staff: Staff, told: Callable[[], Told]
) -> None:
    order = looked_at(piece, staff)
    first = ask(order, staff)
    letter = told()
    ask(order, staff, lines=(EstimateLine("Overhaul", Decimal(530)),))
    refused = press(client, letter, first, "agree")
    assert refused.status_code == 409
    assert "we have written another estimate meanwhile" in refused.content.decode()
    text = words_of(client, letter.address)
    assert "was replaced by a newer one of 5 June 2026" in text
    assert "Agree: £530.00" in text


def test_an_earlier_estimate_that_has_not_gone_out_never_does(
    piece: Piece, staff: Staff, told: Callable[[], Told], sink: MailSink
) -> None:
    order = looked_at(piece, staff)
    ask(order, staff)
    ask(order, staff, lines=(EstimateLine("Overhaul", Decimal(530)),))
    letter = told()
    assert len(sink.messages) == 1
    assert "530.00" in letter.mail.text


def test_an_answer_at_the_counter_ends_the_letter_that_would_still_ask(
    piece: Piece, staff: Staff, sink: MailSink
) -> None:
    estimate = ask(looked_at(piece, staff), staff)
    telling.hear_answer(estimate, agreed=True, heard=Heard.COUNTER, heard_by=staff, on=TODAY, at=NOW)
    send()
    assert sink.messages == []
    assert Letter.objects.get(sort="order").state == "ended"


def test_its_last_day_is_that_of_the_boutique_which_has_the_order(
    client: Client, piece: Piece, staff: Staff, told: Callable[[], Told]
) -> None:
    """Five in the afternoon in Los Angeles, where the owner is too, is the next day on the house's clock."""
    assert piece.owner
    assert piece.boutique
    piece.owner.time_zone, piece.boutique.time_zone = "", "America/Los_Angeles"
    piece.owner.save()
    piece.boutique.save()
    estimate = ask(looked_at(piece, staff), staff, until=TODAY)
    letter = told()
    with time_machine.travel("2026-06-06T00:00:00Z", tick=False):
        assert "Agree: £480.00" in words_of(client, letter.address)
        assert press(client, letter, estimate, "agree").status_code == 302
    assert list(EstimateAnswer.objects.values_list("agreed", "said_on")) == [(True, TODAY)]
