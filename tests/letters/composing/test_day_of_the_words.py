"""A letter speaks from the day on which it is handed over, and for ever after from the one on which it was."""

import io
import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from django.db.models import Q
from pypdf import PdfReader

from service_center.book.models import Owner, Piece
from service_center.letters import actions, papers
from service_center.letters.actions.claiming import claim
from service_center.letters.composing.letter import MASK, masked_links, write
from service_center.letters.models import Letter
from service_center.letters.queries.contents import contents_of
from service_center.letters.rules.speaking import OnItsWay, speaks_from
from service_center.letters.rules.words import Channel, LetterState
from tests.factories import OwnerFactory, PieceFactory, StaffFactory, history
from tests.letters.conftest import NOW, only_letter, recount, round_on, send
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
PLANNED, OUT, TODAY = date(2026, 3, 18), date(2026, 4, 20), date(2026, 6, 1)


def said_in(sink: MailSink) -> str:
    [mail] = sink.messages
    return " ".join(mail.text.split())


def spoken_from(letter: Letter, now: datetime = NOW) -> date:
    return contents_of([letter], now=now)[letter.pk].as_of


@pytest.mark.parametrize(
    ("state", "out_on", "by_hand", "day"),
    [
        (LetterState.WAITING, None, False, TODAY),
        (LetterState.HANDING_OVER, None, False, TODAY),
        (LetterState.HELD, None, False, TODAY),
        (LetterState.HELD, None, True, TODAY),
        (LetterState.HELD, OUT, True, TODAY),  # came back, and is to be told by hand
        (LetterState.HELD, OUT, False, OUT),  # in doubt, and held since: it goes as the same message
        (LetterState.WAITING, OUT, False, OUT),
        (LetterState.AT_THE_DOT, OUT, False, OUT),
        (LetterState.IN_DOUBT, OUT, False, OUT),
        (LetterState.SENT, OUT, False, OUT),
        (LetterState.SENT, OUT, True, OUT),
        (LetterState.SENT, date(2026, 3, 17), False, PLANNED),
        (LetterState.SENT, date(2026, 11, 29), False, TODAY),  # as the world stands on that day
        (LetterState.REFUSED, OUT, False, OUT),
        (LetterState.REFUSED, None, False, PLANNED),
        (LetterState.ENDED, None, False, PLANNED),
    ],
)
def test_the_day_of_its_words(state: LetterState, out_on: date | None, by_hand: bool, day: date) -> None:
    assert speaks_from(OnItsWay(state, PLANNED, out_on, by_hand=by_hand), TODAY) == day


def test_no_letter_speaks_from_a_day_before_its_own() -> None:
    assert speaks_from(OnItsWay(LetterState.WAITING, PLANNED, None), date(2026, 3, 17)) == PLANNED


def test_what_joined_a_waiting_letter_is_told_as_it_stands_when_the_letter_leaves(
    due_piece: Make, sink: MailSink
) -> None:
    """The mail server was away; the case was opened meanwhile, and its test travels with the letter that waits."""
    owner = OwnerFactory()
    due_piece(owner=owner)
    opened = PieceFactory(owner=owner, sold_on=None, made_on=None)
    history(opened, "2026-02-02")
    round_on("2026-03-18")
    history(opened, "2026-03-19", kind="repair", done_by="outside", tightness="not_tested")
    recount("2026-03-20")
    assert round_on("2026-03-20").reminders == 1
    assert send("2026-03-27").sent == 1
    assert "Its case was opened on 19 March 2026, and no tightness test is known since." in said_in(sink)
    assert "last passed" not in said_in(sink)


def test_a_day_that_passed_while_the_letter_waited_is_told_as_past(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    round_on("2026-03-18")
    assert send("2026-06-01").sent == 1
    assert "We recommended an overhaul by 17 May 2026" in said_in(sink)


def test_a_guarantee_that_ended_while_the_letter_waited_is_not_told(due_piece: Make, sink: MailSink) -> None:
    history(due_piece(), "2024-04-10", kind="repair", done_by="own")
    recount("2026-03-18")
    round_on("2026-03-18")
    before = write(
        contents_of([only_letter()], now=datetime(2026, 3, 18, 12, tzinfo=UTC))[only_letter().pk], masked_links()
    )
    assert "The guarantee on our work runs to" in before.unwrapped
    assert send("2026-04-20").sent == 1
    assert "guarantee" not in said_in(sink)


@pytest.mark.parametrize(("zone", "day"), [("Pacific/Auckland", "2026-11-26"), ("America/Los_Angeles", "2026-11-25")])
def test_it_is_the_owners_day_when_it_is_handed_over(due_piece: Make, zone: str, day: str) -> None:
    due_piece(owner=OwnerFactory(time_zone=zone))
    round_on("2026-03-18")
    _taken, [one] = claim(Q(), by="we", at_most=1, on=NOW.date(), now=NOW)
    assert one.tell().as_of == date.fromisoformat(day) == NOW.astimezone(ZoneInfo(zone)).date()


def test_an_owner_without_a_zone_has_that_of_the_boutique(due_piece: Make) -> None:
    due_piece(owner=OwnerFactory(time_zone="", country="NZ"), boutique__time_zone="Pacific/Auckland")
    round_on("2026-03-18")
    assert spoken_from(only_letter()) == date(2026, 11, 26)


def test_a_letter_is_read_again_as_it_went_out(due_piece: Make, sink: MailSink) -> None:
    """21:00 UTC is the next morning in Auckland."""
    due_piece(owner=OwnerFactory(time_zone="Pacific/Auckland"))
    round_on("2026-03-18")
    assert spoken_from(only_letter()) == date(2026, 11, 26)
    send("2026-06-01")
    Letter.objects.update(sent_at=datetime(2026, 5, 31, 21, tzinfo=UTC))
    again = write(contents_of([only_letter()], now=NOW)[only_letter().pk], masked_links())
    assert spoken_from(only_letter()) == date(2026, 6, 1)
    assert again.text.replace(MASK, "").splitlines() == _without_secrets(sink)


def _without_secrets(sink: MailSink) -> list[str]:
    [mail] = sink.messages
    return [re.sub(r"(/o/(?:stop/)?)[^/]+/$", r"\1/", line) for line in mail.text.splitlines()]


@pytest.mark.parametrize("phase", ["dot", "after"])
def test_a_letter_in_doubt_goes_again_as_the_same_message(due_piece: Make, sink: MailSink, phase: str) -> None:
    due_piece()
    round_on("2026-03-18")
    sink.fail(phase, "drop")
    assert send("2026-03-18").in_doubt == 1
    Letter.objects.update(dot_at=datetime(2026, 3, 18, 9, tzinfo=UTC))
    assert spoken_from(only_letter()) == date(2026, 3, 18)
    Letter.objects.update(state="waiting")  # as the desk's "sent again" does
    assert send("2026-06-01").sent == 1
    assert "We recommend an overhaul by 17 May 2026" in " ".join(sink.messages[-1].text.split())


def test_on_paper_it_speaks_from_the_day_of_the_print_and_then_from_the_one_on_which_the_owner_was_told(
    due_piece: Make,
) -> None:
    owner: Owner = OwnerFactory(email="", time_zone="Pacific/Auckland")
    due_piece(owner=owner)
    recount("2026-03-18")
    desk = StaffFactory(role="desk")
    letter = actions.prepare(owner, as_of=PLANNED, by=desk)
    now = datetime(2026, 6, 1, 10, tzinfo=UTC)
    links = actions.links_on_paper(letter, now=now)
    paper = " ".join(PdfReader(io.BytesIO(papers.on_paper(letter, links, now))).pages[0].extract_text().split())
    assert "We recommended an overhaul by 17 May 2026" in paper
    actions.note_reached(letter, Channel.TELEPHONE, on=OUT, note="", by=desk)
    assert spoken_from(only_letter()) == OUT
