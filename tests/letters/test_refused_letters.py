"""A refused letter, or one in doubt, that goes by the desk's hand says nothing that was settled since; and a refusal
keeps nobody else from being written to."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.db.models import Q
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from service_center.access.models import Staff
from service_center.book.models import Owner, Piece
from service_center.book.rules import DoneBy, EntryKind, Tightness
from service_center.intake.newcomers.actions import change_owner
from service_center.letters import actions
from service_center.letters.actions import settling
from service_center.letters.actions.claiming import claim
from service_center.letters.models import Reminder
from service_center.letters.rules.handing import Outcome, Phase, verdict
from service_center.letters.rules.words import AnswerChoice
from service_center.pieces.actions import record_entry
from tests.factories import OwnerFactory, StaffFactory
from tests.letters.conftest import NOW, come_morning, only_letter, round_on, send
from tests.letters.returned.reports import come_back, delivery_report
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
DAY = date(2026, 3, 18)
POLICY = "550 5.7.1 not signed"


@pytest.fixture
def desk(db: None) -> Staff:
    staff: Staff = StaffFactory(role="desk")
    return staff


@pytest.fixture
def two(due_piece: Make, sink: MailSink) -> list[Piece]:
    """Two pieces of one owner, spoken of in one letter."""
    owner = OwnerFactory()
    pieces = [due_piece(owner=owner), due_piece(owner=owner)]
    round_on("2026-03-18")
    return pieces


def say(piece: Piece, choice: AnswerChoice, *, day: date | None = None) -> None:
    assert piece.owner
    actions.record_answer(
        owner=piece.owner, letter=None, piece=piece, choice=choice, day=day, boutique=None, on=DAY, by=None
    )


SAID = [
    (AnswerChoice.NO_LONGER_MINE, None, "the piece is no longer the owner's"),
    (AnswerChoice.NOT_NOW, timezone.localdate() + timedelta(days=90), "the owner asked not to be reminded now"),
    (AnswerChoice.DONE_ELSEWHERE, DAY, "the owner had it done elsewhere"),
]


@pytest.mark.parametrize(("choice", "day", "why"), SAID)
def test_what_was_answered_since_a_letter_was_refused_is_not_said_when_it_is_let_go(
    two: list[Piece], desk: Staff, sink: MailSink, choice: AnswerChoice, day: date | None, why: str
) -> None:
    sink.fail("dot", POLICY)
    assert send().refused == 1
    say(two[0], choice, day=day)
    actions.release(only_letter(), by=desk, now=NOW)
    come_morning()
    assert send().sent == 1
    [mail] = sink.messages
    assert two[0].serial not in mail.text
    assert two[1].serial in mail.text
    assert Reminder.objects.get(piece=two[0]).ended_because == why


def test_a_refused_letter_of_which_nothing_is_left_ends_with_its_reason(
    two: list[Piece], desk: Staff, sink: MailSink
) -> None:
    sink.fail("dot", POLICY)
    send()
    for piece in two:
        say(piece, AnswerChoice.NO_LONGER_MINE)
    assert (only_letter().state, only_letter().reason) == ("ended", "the piece is no longer the owner's")
    with pytest.raises(actions.NotInThatState):
        actions.release(only_letter(), by=desk, now=NOW)
    assert send().sent == 0


@pytest.mark.parametrize(("choice", "day", "why"), SAID)
def test_a_letter_in_doubt_goes_again_without_what_was_answered_since(
    two: list[Piece], desk: Staff, sink: MailSink, choice: AnswerChoice, day: date | None, why: str
) -> None:
    sink.fail("after", "drop")
    assert send().in_doubt == 1
    say(two[0], choice, day=day)
    assert Reminder.objects.get(piece=two[0]).ended_on is None  # it may be out
    actions.settle_doubt(only_letter(), actions.Settled.SENT_AGAIN, by=desk, now=NOW)
    assert send().sent == 1
    assert [two[0].serial in mail.text for mail in sink.messages] == [True, False]
    assert all(two[1].serial in mail.text for mail in sink.messages)
    assert Reminder.objects.get(piece=two[0]).ended_because == why


def test_a_letter_in_doubt_of_which_nothing_is_left_ends_with_its_reason(
    two: list[Piece], desk: Staff, sink: MailSink
) -> None:
    sink.fail("after", "drop")
    send()
    for piece in two:
        say(piece, AnswerChoice.NO_LONGER_MINE)
    actions.settle_doubt(only_letter(), actions.Settled.SENT_AGAIN, by=desk, now=NOW)
    assert send().sent == 0
    assert (only_letter().state, only_letter().reason) == ("ended", "the piece is no longer the owner's")


def test_a_not_now_that_has_run_out_keeps_nothing_back(two: list[Piece], desk: Staff, sink: MailSink) -> None:
    sink.fail("after", "drop")
    send()
    say(two[0], AnswerChoice.NOT_NOW, day=DAY + timedelta(days=1))
    actions.settle_doubt(only_letter(), actions.Settled.SENT_AGAIN, by=desk, now=NOW)
    assert send().sent == 1
    assert two[0].serial in sink.messages[-1].text


def test_an_answer_while_a_sender_has_the_letter_counts_when_it_goes_after_all(
    two: list[Piece], desk: Staff, sink: MailSink
) -> None:
    _taken, claims = claim(Q(), by="we", at_most=5, on=DAY, now=NOW)
    say(two[0], AnswerChoice.NO_LONGER_MINE)
    settling.give_back(claims)
    assert send().sent == 1
    assert two[0].serial not in sink.messages[0].text
    assert two[1].serial in sink.messages[0].text


def test_a_service_ends_the_step_in_a_refused_letter(two: list[Piece], desk: Staff, sink: MailSink) -> None:
    sink.fail("dot", POLICY)
    send()
    for piece in two:
        record_entry(
            piece,
            done_on=DAY,
            kind=EntryKind.OVERHAUL,
            case_opened=True,
            tightness=Tightness.NOT_TESTED,
            done_by=DoneBy.OWN,
            accepted=True,
            note="",
            by=desk,
            as_of=DAY,
        )
    assert not Reminder.objects.filter(ended_on=None).exists()
    assert only_letter().state == "ended"


def sell(piece: Piece, desk: Staff) -> Owner:
    buyer: Owner = OwnerFactory()
    change_owner(piece, buyer, boutique=None, by=desk, as_of=DAY)
    return buyer


def test_the_buyer_of_a_piece_whose_letter_to_the_seller_was_refused_is_written_to(
    due_piece: Make, desk: Staff, sink: MailSink
) -> None:
    piece = due_piece()
    round_on("2026-03-18")
    sink.fail("dot", POLICY)
    assert send().refused == 1
    buyer = sell(piece, desk)
    assert only_letter().state == "ended"
    assert round_on("2026-03-19").letters == 1
    assert send().sent == 1
    assert [mail.recipients for mail in sink.messages] == [(buyer.email,)]


@pytest.mark.parametrize("how", ["refused after the sale", "reported after the sale"])
def test_the_buyer_is_written_to_though_the_seller_s_letter_was_on_its_way_at_the_sale(
    due_piece: Make, desk: Staff, client: Client, sink: MailSink, how: str
) -> None:
    piece = due_piece()
    round_on("2026-03-18")
    if how == "refused after the sale":
        _taken, [one] = claim(Q(), by="we", at_most=5, on=DAY, now=NOW)
        assert settling.commit_the_dot(one)
        buyer = sell(piece, desk)
        said = Outcome(Phase.DOT, 550, POLICY)
        assert settling.settle(one, said, verdict(said)) == "refused"
    else:
        sink.fail("after", "drop")
        assert send().in_doubt == 1
        buyer = sell(piece, desk)
        come_back(delivery_report(only_letter()))
    assert not Reminder.objects.filter(ended_on=None).exists()
    seller_s = only_letter()
    before = len(sink.messages)
    assert round_on("2026-03-19").letters == 1
    assert send().sent == 1
    assert [mail.recipients for mail in sink.messages[before:]] == [(buyer.email,)]
    client.force_login(desk)
    assert client.get(reverse("letters:letter", args=[seller_s.pk])).status_code == 200
    client.post(reverse("letters:release", args=[seller_s.pk]))
    assert send().sent == 0
