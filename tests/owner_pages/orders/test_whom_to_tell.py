"""Who is told of an order, by letter or otherwise, and the desk's list of those whom nobody has told yet."""

from decimal import Decimal

import pytest
from django.test import Client

from service_center.access.models import Staff
from service_center.bench.orders import telling
from service_center.book.models import Piece
from service_center.letters import actions as of_letters
from service_center.letters.models import Letter, OrderWord, StoppedAddress
from service_center.letters.queries.orders import orders_to_tell
from service_center.letters.rules.deciding import Reason
from service_center.letters.rules.words import Channel
from service_center.workshop.orders.actions import EstimateLine
from service_center.workshop.orders.rules.answers import Heard
from tests.factories import StaffFactory
from tests.letters.sink import MailSink
from tests.owner_pages.conftest import NOW, TODAY, words_of
from tests.owner_pages.orders.asking import ask, looked_at, made_ready, send

pytestmark = pytest.mark.django_db


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


def pauses_are_over() -> None:
    Letter.objects.filter(state="waiting").update(not_before=NOW)


def test_a_price_that_was_put_off_at_the_end_of_its_message_never_follows_the_new_one(
    piece: Piece, staff: Staff, sink: MailSink
) -> None:
    order = looked_at(piece, staff)
    ask(order, staff)
    sink.fail("dot", "451 4.3.0 later")
    send()
    ask(order, staff, lines=(EstimateLine("Overhaul", Decimal(390)),))
    send()
    pauses_are_over()
    send()
    [mail] = sink.messages
    assert "£390.00" in mail.text
    assert "£480.00" not in mail.text


@pytest.mark.parametrize("since", ["asked anew", "answered"])
@pytest.mark.parametrize("was", ["held", "refused", "handing_over", "at_the_dot", "in_doubt"])
def test_wherever_an_estimate_s_letter_was_it_asks_no_more_once_it_is_overtaken(
    piece: Piece, staff: Staff, sink: MailSink, was: str, since: str
) -> None:
    desk = StaffFactory(role="desk")
    order = looked_at(piece, staff)
    estimate = ask(order, staff)
    first = OrderWord.objects.get().letter
    Letter.objects.filter(pk=first.pk).update(state=was, attempt=1, dot_at=NOW)
    if since == "asked anew":
        ask(order, staff, lines=(EstimateLine("Overhaul", Decimal(390)),))
    else:
        telling.hear_answer(estimate, agreed=True, heard=Heard.COUNTER, heard_by=staff, on=TODAY, at=NOW)
    # What may become of it then: a sender puts it off, and the desk presses whatever it is offered.
    Letter.objects.filter(state__in=["handing_over", "at_the_dot"]).update(state="waiting", reason="not taken for now")
    first.refresh_from_db()
    if first.state == "in_doubt":
        of_letters.settle_doubt(first, of_letters.Settled.SENT_AGAIN, by=desk, now=NOW)
    if first.state in ("held", "refused"):
        of_letters.release(first, by=desk)
    pauses_are_over()
    send()
    assert not any("£480.00" in mail.text for mail in sink.messages)
    assert len(sink.messages) == (1 if since == "asked anew" else 0)
    first.refresh_from_db()
    assert (first.state, first.reason) == ("ended", "a later estimate goes instead, or the order went on")


def test_word_that_is_still_so_goes_after_every_pause(piece: Piece, staff: Staff, sink: MailSink) -> None:
    order = looked_at(piece, staff)
    ask(order, staff)
    sink.fail("dot", "451 4.3.0 later")
    send()
    pauses_are_over()
    send()
    ready = made_ready(order, staff)
    telling.bring_back(ready, on=TODAY, at=NOW, by=staff)
    sink.fail("dot", "451 4.3.0 later")
    send()
    pauses_are_over()
    send()
    assert [("£480.00" in mail.text, "is ready" in mail.text) for mail in sink.messages] == [
        (True, False), (False, True),
    ]  # fmt: skip
