"""Letters that were refused for the house's fault, all tried again with one press, each by the rules of one."""

from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from service_center.access.models import Trail
from service_center.book.models import Piece
from service_center.letters.actions import desk as deeds
from service_center.letters.models import Letter, Reminder
from tests.factories import OwnerFactory
from tests.letters.conftest import come_morning, recount, round_on, send
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
SignIn = Callable[..., Client]
LIST, ALL = reverse("letters:letters"), reverse("letters:try_all_again")


def refuse_all(sink: MailSink, reply: str) -> None:
    sink.fail("rcpt", reply, times=Letter.objects.filter(state="waiting").count())
    send()


@pytest.fixture
def four_refused(due_piece: Make, sink: MailSink) -> list[Letter]:
    for _piece in range(4):
        due_piece()
    round_on("2026-03-18")
    refuse_all(sink, "554 5.7.1 no reputation")
    letters = list(Letter.objects.order_by("pk"))
    assert {letter.state for letter in letters} == {"refused"}
    return letters


def test_one_press_tries_all_again_and_a_second_one_changes_nothing(
    four_refused: list[Letter], signed_in: SignIn, sink: MailSink
) -> None:
    desk = signed_in("desk")
    assert "Try all 4 again" in desk.get(LIST, {"state": "refused"}).content.decode()
    assert "Try all 4 again" not in desk.get(LIST).content.decode()
    assert "4 letters go out." in desk.post(ALL, follow=True).content.decode()
    told = desk.post(ALL, follow=True).content.decode()
    assert "Nothing was changed: no letter is refused for the house&#x27;s fault any more." in told
    come_morning()
    assert (send().sent, len(sink.messages)) == (4, 4)
    assert Trail.objects.filter(deed="letter_released").count() == 4


def test_each_goes_by_the_rules_of_one(
    four_refused: list[Letter], due_piece: Make, signed_in: SignIn, sink: MailSink
) -> None:
    """One owner has another letter by now, one wants none any more, one's piece was served; only the last one's goes."""
    near, unwanted, served, _goes = four_refused
    Letter.objects.create(
        owner=near.owner, language="en", planned_on=date(2026, 3, 20), not_before=timezone.now(), state="sent",
        sent_at=timezone.now(),
    )  # fmt: skip
    unwanted.owner.letters = False
    unwanted.owner.save()
    Reminder.objects.filter(letter=served).update(ended_on=date(2026, 3, 20))
    told = signed_in("desk").post(ALL, follow=True).content.decode()
    assert "1 letter goes out." in told
    assert "2 letters stay refused: their own pages say why when you try them again." in told
    come_morning()
    assert send().sent == 1
    assert set(Letter.objects.filter(state="refused")) == {near, unwanted, served}


def test_a_mailbox_that_is_not_there_is_not_the_houses_fault(
    due_piece: Make, signed_in: SignIn, sink: MailSink
) -> None:
    due_piece()
    round_on("2026-03-18")
    refuse_all(sink, "550 5.1.1 nobody there")
    desk = signed_in("desk")
    assert "Try all" not in desk.get(LIST, {"state": "refused"}).content.decode()
    desk.post(ALL)
    assert Letter.objects.get().state == "refused"


def test_two_letters_of_one_owner_do_not_go_together(due_piece: Make, signed_in: SignIn, sink: MailSink) -> None:
    owner = OwnerFactory()
    due_piece(owner=owner)
    round_on("2026-03-18")
    refuse_all(sink, "554 5.7.1 no reputation")
    due_piece(owner=owner, sold_on=date(2019, 5, 18))
    recount("2026-03-18")
    round_on("2026-03-19")
    refuse_all(sink, "554 5.7.1 no reputation")
    signed_in("desk").post(ALL)
    come_morning()
    assert (send().sent, len(sink.messages)) == (1, 1)


def test_many_are_tried_again_some_at_a_time(
    four_refused: list[Letter], signed_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(deeds, "TRIED_AT_ONCE", 3)
    desk = signed_in("desk")
    told = desk.post(ALL, follow=True).content.decode()
    assert "3 letters go out." in told
    assert "Try it again" in told
    desk.post(ALL)
    assert not Letter.objects.filter(state="refused").exists()
