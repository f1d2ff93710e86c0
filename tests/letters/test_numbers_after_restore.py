"""A journal heard late: since the backup came back, a round gave numbers and days that letters of the lost days had."""

from collections.abc import Callable
from datetime import UTC, date, datetime

import pytest

from service_center.book.models import Piece
from service_center.letters.actions import daily_round, go_on, hold_waiting, replay
from service_center.letters.models import Letter, OwnerLink, Reminder
from service_center.letters.rules.journal import Going, Gone, GoneReminder
from service_center.letters.rules.unusual import Asked
from service_center.letters.rules.words import LinkPurpose
from tests.factories import OwnerFactory
from tests.letters.conftest import NOW, round_on, send
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
DAY = date(2026, 3, 18)
WENT_OUT = datetime(2026, 3, 18, 17, 2, tzinfo=UTC)


def went_out(piece: Piece, number: int) -> Gone:
    """What a sender's journal has of the invitation for a piece that left under a number after the backup."""
    assert piece.owner is not None
    reminder = GoneReminder(piece.serial, "overhaul", piece.sold_on or DAY, "invitation", date(2026, 6, 1))
    going = Going(number, piece.owner.code, "en", DAY, f"<letter.{number}@house>", 1, (reminder,), ())
    return Gone(going, WENT_OUT, "250 ok")


@pytest.fixture
def written_again(due_piece: Make) -> list[Piece]:
    """Four owners' pieces, due; brought back from before their letters, and written to by a round that is held."""
    pieces = [due_piece() for _number in range(4)]
    hold_waiting()
    daily_round(as_of=DAY, now=NOW, asked=Asked.BY_CLOCK)
    assert set(Letter.objects.values_list("state", flat=True)) == {"held"}
    return pieces


def letters_of(piece: Piece) -> dict[int, str]:
    """The letters of a piece's owner: number and state."""
    return dict(Letter.objects.filter(owner=piece.owner).values_list("pk", "state"))


def number_of(piece: Piece) -> int:
    return Letter.objects.get(owner=piece.owner).pk


def test_an_owner_who_has_the_letter_is_not_sent_the_one_that_was_written_again(
    written_again: list[Piece], sink: MailSink
) -> None:
    first = written_again[0]
    again, lost = number_of(first), number_of(first) + 50
    heard = replay([went_out(first, lost)])
    assert (heard.written, heard.unknown) == (1, [])
    assert letters_of(first) == {again: "ended", lost: "sent"}
    assert Reminder.objects.get(piece=first, ended_on=None).letter_id == lost
    assert replay([went_out(first, lost)]).known == 1
    go_on(by=None, now=NOW)
    Letter.objects.filter(state="held").update(state="waiting")
    assert send().sent == 3
    assert first.serial not in " ".join(mail.text for mail in sink.messages)


@pytest.mark.parametrize("backwards", [False, True])
def test_letters_that_went_out_in_another_order_each_stand_under_their_own_number(
    written_again: list[Piece], sink: MailSink, backwards: bool
) -> None:
    one, two, three, four = written_again
    numbers = [number_of(piece) for piece in written_again]
    # The lost machine wrote to the first three in another order, and to the fourth not yet.
    before = dict(zip([two, three, one], numbers, strict=False))
    records = [went_out(piece, number) for piece, number in before.items()]
    heard = replay(reversed(records) if backwards else records)
    assert (heard.written + heard.marked, heard.known, heard.unknown) == (3, 0, [])
    for piece, number in before.items():
        sent = Letter.objects.get(owner=piece.owner, state="sent")
        assert (sent.pk, sent.message_id) == (number, f"<letter.{number}@house>")
        assert Reminder.objects.get(piece=piece, ended_on=None).letter_id == number
    assert number_of(four) == numbers[3]
    assert replay(records).known == 3
    Letter.objects.filter(state="held").update(state="waiting")
    assert send().sent == 1
    assert four.serial in sink.messages[0].text


def test_a_letter_whose_number_another_had_goes_out_under_one_that_nobody_had(
    written_again: list[Piece], due_piece: Make, sink: MailSink
) -> None:
    waits, number = written_again[0], number_of(written_again[0])
    other = due_piece(owner=OwnerFactory())
    replay([went_out(written_again[1], number + 40), went_out(other, number)])
    assert letters_of(other) == {number: "sent"}
    new = number_of(waits)
    assert new > number + 40
    assert Reminder.objects.get(piece=waits).letter_id == new
    Letter.objects.filter(state="held").update(state="waiting")
    assert send().sent == 3
    assert Letter.objects.get(pk=new).state == "sent"


def test_a_letter_whose_links_somebody_may_have_keeps_its_number(written_again: list[Piece], due_piece: Make) -> None:
    waits, number = written_again[0], number_of(written_again[0])
    OwnerLink.objects.create(letter_id=number, purpose=LinkPurpose.PAGE, token_hash="0" * 64, expires_at=WENT_OUT)
    other = due_piece(owner=OwnerFactory())
    records = [went_out(other, number)]
    assert replay(records).written == 1
    assert letters_of(waits) == {number: "held"}
    assert list(letters_of(other).values()) == ["sent"]
    assert replay(records).known == 1


def test_what_the_letter_before_did_not_carry_is_to_be_said_yet(due_piece: Make) -> None:
    first = due_piece()
    second = due_piece(owner=first.owner)
    hold_waiting()
    daily_round(as_of=DAY, now=NOW, asked=Asked.BY_CLOCK)
    again = number_of(first)
    assert Reminder.objects.filter(letter=again, ended_on=None).count() == 2
    replay([went_out(first, again + 50)])
    assert Reminder.objects.get(piece=first, ended_on=None).letter_id == again + 50
    assert Reminder.objects.get(piece=second).ended_because == "not in the letter that went out before the restore"
    round_on("2026-06-01")
    assert Reminder.objects.get(piece=second, ended_on=None).letter.planned_on == date(2026, 6, 1)


@pytest.mark.parametrize("state", ["sent", "in_doubt", "at_the_dot"])
def test_where_the_second_letter_may_be_out_too_the_desk_is_told_and_the_journal_is_heard_to_its_end(
    written_again: list[Piece], state: str
) -> None:
    first, second = written_again[:2]
    again = number_of(first)
    Letter.objects.filter(pk=again).update(state=state, sent_at=WENT_OUT if state == "sent" else None)
    records = [went_out(first, again + 50), went_out(second, again + 51)]
    heard = replay(records)
    assert heard.unknown == [records[0].going.message_id]
    assert (heard.written, letters_of(first)) == (1, {again: state})


def test_the_letter_of_the_record_that_had_ended_stands_and_the_one_written_instead_ends(
    written_again: list[Piece],
) -> None:
    first = written_again[0]
    ended = number_of(first)
    living = Letter.objects.get(pk=ended)
    Letter.objects.filter(pk=ended).update(state="ended")
    instead = replace_number(living)
    assert replay([went_out(first, ended)]).marked == 1
    assert letters_of(first) == {ended: "sent", instead: "ended"}


def replace_number(letter: Letter) -> int:
    """Another letter for the same owner and day, with its reminders."""
    number = letter.pk
    letter.pk = None
    letter.save(force_insert=True)
    Reminder.objects.filter(letter=number).update(letter=letter)
    return letter.pk or 0
