"""Word about an order, and the page behind its link: the estimate, the answer, and where the work stands."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from service_center.access.models import Staff
from service_center.bench.orders import telling
from service_center.bench.orders.actions import hand_back_order
from service_center.book.actions import move_piece
from service_center.book.models import Piece
from service_center.book.rules import EntryKind, Place
from service_center.letters.actions import SendResult, send_waiting
from service_center.letters.models import Letter, OrderWord, OwnerLink, StoppedAddress
from service_center.letters.queries.orders import orders_to_tell
from service_center.letters.rules.deciding import Reason
from service_center.letters.rules.words import Channel
from service_center.owner_pages.copying import copy_of
from service_center.workshop.models import EstimateAnswer, OrderEstimate, WorkOrder
from service_center.workshop.orders.actions import EstimateLine, open_order
from service_center.workshop.orders.rules.answers import Heard
from service_center.workshop.orders.rules.steps import Step
from tests.factories import OwnerFactory, PieceFactory, StaffFactory
from tests.letters.sink import MailSink, Received
from tests.owner_pages.conftest import NOW, TODAY, Sent, open_pages, send_about, words_of
from tests.owner_pages.test_data import text_of_pdf
from tests.workshop.hands import Hands

pytestmark = pytest.mark.django_db
LINES = (
    EstimateLine("Overhaul", Decimal(480)),
    EstimateLine("Hairspring", Decimal(95), covered=True, because="A fault of manufacture."),
)
WORDS_ABOUT: dict[str, tuple[str, str, str, str]] = {
    "en": ("The estimate for your", "Agree: £480.00", "You agreed on 5 June 2026.", "is ready"),
    "de": ("Der Kostenvoranschlag für Ihre", "Zustimmen: 480,00 £", "Sie haben am 5. Juni 2026 zugestimmt.", "fertig"),
    "fr": ("Le devis pour votre", "Accepter : 480,00 £GB", "Vous avez accepté le 5 juin 2026.", "prête"),
    "it": ("Il preventivo per il Suo", "Accettare: 480,00 £", "Ha accettato il giorno 5 giugno 2026.", "pronto"),
    "es": ("El presupuesto para su", "Aceptar: 480,00 GBP", "Aceptó el 5 de junio de 2026.", "listo"),
    "ja": ("お見積りができました", "同意する：£480.00", "2026年6月5日にご同意をいただきました。", "準備ができました"),
}


@pytest.fixture
def staff(db: None) -> Staff:
    member: Staff = StaffFactory(role="watchmaker")
    return member


def send() -> SendResult:
    return send_waiting(now=timezone.now(), until_empty=True)


def looked_at(piece: Piece, staff: Staff, number: str = "R-000042") -> WorkOrder:
    """An order of the owner's whose piece was looked at, and who is to be asked."""
    move_piece(piece, to=Place.BOUTIQUE, boutique=piece.boutique, at=NOW, by=staff)
    assert piece.boutique
    order = open_order(
        piece,
        number=number,
        boutique=piece.boutique,
        asked=[EntryKind.OVERHAUL],
        opened_on=TODAY,
        at=NOW,
        by=staff,
        promised_on=TODAY + timedelta(days=20),
    )
    return Hands(order, staff, TODAY).to("received", "diagnosed", asks=True)


def ask(
    order: WorkOrder,
    staff: Staff,
    *,
    lines: tuple[EstimateLine, ...] = LINES,
    until: date | None = None,
    note: str = "",
) -> Any:
    asked = telling.Asked(lines, "GBP", until or TODAY + timedelta(days=30), note)
    return telling.ask_owner(order, asked, on=TODAY, now=NOW, by=staff, form_key=uuid4())


@dataclass
class Told:
    """A letter about an order as its owner got it."""

    mail: Received
    address: str


@pytest.fixture
def told(sink: MailSink, settings: Any) -> Callable[[], Told]:
    def arrived() -> Told:
        send()
        mail = sink.messages[-1]
        found = re.search(rf"{re.escape(settings.SITE_URL)}(/o/[^/\s]+/)", mail.text)
        assert found
        return Told(mail, found[1])

    return arrived


def press(client: Client, told: Told, estimate: OrderEstimate, answer: str) -> Any:
    return client.post(f"{told.address}estimate/{estimate.pk}/answer/", {"answer": answer})


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


def made_ready(order: WorkOrder, staff: Staff) -> WorkOrder:
    hands = Hands(order, staff, TODAY)
    estimate = order.estimates.get()
    telling.hear_answer(estimate, agreed=False, heard=Heard.COUNTER, heard_by=staff, on=TODAY, at=NOW)
    return hands.to("ready")


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


def test_an_order_that_is_over_says_when_the_watch_was_handed_back(
    client: Client, piece: Piece, staff: Staff, told: Callable[[], Told]
) -> None:
    order = looked_at(piece, staff)
    ask(order, staff)
    ready = telling.bring_back(made_ready(order, staff), on=TODAY, at=NOW, by=staff)
    letter = told()
    hand_back_order(ready, on=TODAY, at=NOW, by=staff, as_of=TODAY)
    assert "Your watch was handed back to you on 5 June 2026." in words_of(client, letter.address)


@pytest.mark.parametrize(("why", "reason"), [("", Reason.NO_EMAIL), ("stopped", Reason.ADDRESS_STOPPED)])
def test_whom_no_letter_reaches_stands_on_the_desk_s_list_until_they_are_told(
    piece: Piece, staff: Staff, why: str, reason: Reason
) -> None:
    assert piece.owner
    if why:
        StoppedAddress.objects.create(email=piece.owner.email, stopped_at=NOW, because="550 5.1.1 unknown")
    else:
        piece.owner.email = ""
        piece.owner.save()
    order = looked_at(piece, staff)
    ask(order, staff)
    assert [(one.order.number, one.news, one.reason) for one in orders_to_tell()] == [("R-000042", "estimate", reason)]
    desk = Client()
    desk.force_login(StaffFactory(role="desk"))
    assert "R-000042" in desk.get("/letters/reach/").content.decode()
    assert "Nobody has told them that their estimate is ready." in desk.get("/orders/R-000042/").content.decode()
    desk.post("/orders/R-000042/", {"deed": "told", "told-channel": "telephone", "told-note": "Spoke to her."})
    assert orders_to_tell() == []
    word = OrderWord.objects.get()
    assert (word.letter.channel, word.letter.state, word.letter.reached.note) == ("telephone", "sent", "Spoke to her.")


def test_a_letter_that_reached_nobody_puts_the_owner_back_on_the_list(
    piece: Piece, staff: Staff, sink: MailSink
) -> None:
    order = looked_at(piece, staff)
    ask(order, staff)
    assert orders_to_tell() == []
    StoppedAddress.objects.create(email=piece.owner.email, stopped_at=NOW, because="550")  # type: ignore[union-attr]
    send()
    assert sink.messages == []
    assert [one.reason for one in orders_to_tell()] == [Reason.ADDRESS_STOPPED]
    telling.note_told(order, Channel.TELEPHONE, on=TODAY, now=NOW, note="", by=staff)
    assert orders_to_tell() == []


def test_owners_who_want_no_letters_are_told_of_their_order_all_the_same(
    piece: Piece, staff: Staff, sink: MailSink
) -> None:
    assert piece.owner
    piece.owner.letters = False
    piece.owner.save()
    ask(looked_at(piece, staff), staff)
    send()
    assert len(sink.messages) == 1


def test_the_desk_s_list_of_letters_names_the_order(piece: Piece, staff: Staff) -> None:
    ask(looked_at(piece, staff), staff)
    desk = Client()
    desk.force_login(StaffFactory(role="desk"))
    assert "R-000042 the estimate is ready" in words_of(desk, "/letters/all/")
    assert "To be told 0" in words_of(desk, "/letters/")
    Letter.objects.update(state="refused")
    assert "To be told 1" in words_of(desk, "/letters/")


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
