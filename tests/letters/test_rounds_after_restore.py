"""Rounds after a restore: what went out after the backup, and stands in no journal, is not written again unseen
(reliability.md, B3: mail on hold)."""

from collections.abc import Callable
from datetime import UTC, date, datetime

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from service_center.access.actions import leave_trail
from service_center.access.models import Staff, Trail
from service_center.book.models import Piece
from service_center.letters.actions import daily_round, end_held, go_on, hold_waiting, let_round_go, take_round_back
from service_center.letters.actions.rounds import RoundResult
from service_center.letters.models import Letter, Round
from service_center.letters.queries.held_rounds import rounds_are_held_after_restore
from service_center.letters.rules.restored import LETTERS, RESTORED, Deed
from service_center.letters.rules.unusual import Asked, Before, unusual_day
from service_center.letters.rules.words import LetterState, Unusual
from tests.factories import StaffFactory
from tests.letters.conftest import NOW, recount, round_on, send
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
WEDNESDAY, THURSDAY, FRIDAY = date(2026, 3, 18), date(2026, 3, 19), date(2026, 3, 20)
# The machine that restored has its own clock; rounds end by the database's, which no test can move.
BEHIND, AHEAD = datetime(2016, 3, 18, 8, 0, tzinfo=UTC), datetime(2046, 3, 18, 8, 0, tzinfo=UTC)


@pytest.fixture
def desk(db: None) -> Staff:
    staff: Staff = StaffFactory(role="desk")
    return staff


@pytest.fixture
def brought_back(due_piece: Make, sink: MailSink) -> None:
    """A house that has written a letter, whose backup of Wednesday is brought back; another piece is due since."""
    due_piece()
    round_on(WEDNESDAY.isoformat())
    send()
    assert len(sink.messages) == 1
    hold_waiting()
    due_piece()
    recount(THURSDAY.isoformat())


def bring_back(clock: datetime = BEHIND, *, by_command: bool = True) -> None:
    """What `restore` does in the database of a backup, on a machine with such a clock; or `after_restore` alone."""
    with time_machine.travel(clock, tick=False):
        if by_command:
            leave_trail(by=None, deed="restore", subject=RESTORED, after={"backup": "house.zip"})
        hold_waiting()


def of_the_clock(day: date) -> RoundResult:
    return daily_round(as_of=day, now=NOW, asked=Asked.BY_CLOCK)


def test_a_round_after_a_restore_is_unusual_unless_somebody_says_that_they_looked() -> None:
    restored = Before(last_day=WEDNESDAY, most_letters=80, ever_wrote=True, restored=True)
    assert unusual_day(THURSDAY, restored, Asked.BY_CLOCK) is Unusual.RESTORED
    assert unusual_day(THURSDAY, restored, Asked.BY_HAND) is Unusual.RESTORED
    assert unusual_day(THURSDAY, restored, Asked.CONFIRMED) is None
    # A backup from before the first letter: letters may have gone out since all the same.
    assert unusual_day(THURSDAY, Before(restored=True), Asked.BY_CLOCK) is Unusual.RESTORED


@pytest.mark.usefixtures("brought_back")
def test_the_first_round_after_a_restore_sends_nothing_until_the_desk_lets_it_go_and_the_next_is_as_usual(
    due_piece: Make, desk: Staff, sink: MailSink
) -> None:
    assert of_the_clock(THURSDAY).held is Unusual.RESTORED
    send()
    assert len(sink.messages) == 1
    let_round_go(Round.objects.latest("pk"), by=desk, now=NOW)
    send()
    assert len(sink.messages) == 2
    due_piece()
    recount(FRIDAY.isoformat())
    assert of_the_clock(FRIDAY).held is None
    send()
    assert len(sink.messages) == 3


@pytest.mark.usefixtures("brought_back")
def test_as_long_as_no_round_was_let_go_each_is_held(desk: Staff) -> None:
    of_the_clock(THURSDAY)
    take_round_back(Round.objects.latest("pk"), on=THURSDAY, by=desk)
    assert of_the_clock(FRIDAY).held is Unusual.RESTORED
    assert set(Letter.objects.filter(planned_on=FRIDAY).values_list("state", flat=True)) == {LetterState.HELD}


def test_the_desk_s_word_about_held_letters_is_its_word_about_rounds(due_piece: Make, desk: Staff) -> None:
    due_piece()
    round_on(WEDNESDAY.isoformat())
    hold_waiting()
    assert rounds_are_held_after_restore()
    assert go_on(by=desk, now=NOW) == 1
    assert not rounds_are_held_after_restore()
    due_piece()
    recount(THURSDAY.isoformat())
    assert of_the_clock(THURSDAY).held is None


@pytest.mark.usefixtures("brought_back")
def test_where_the_backup_had_no_letter_waiting_the_machine_s_word_lets_rounds_go_on() -> None:
    assert rounds_are_held_after_restore()
    assert go_on(by=None, now=NOW) == 0
    assert of_the_clock(THURSDAY).held is None


def test_letters_that_somebody_else_ended_meanwhile_are_no_word_about_rounds(due_piece: Make, desk: Staff) -> None:
    due_piece()
    round_on(WEDNESDAY.isoformat())
    hold_waiting()
    assert end_held(Letter.objects.all(), because="they are out", on=THURSDAY, by=desk) == 1
    assert go_on(by=desk, now=NOW) == 0
    assert rounds_are_held_after_restore()


@pytest.mark.usefixtures("brought_back")
def test_journals_heard_again_before_the_desk_decides_hold_no_round_twice(desk: Staff) -> None:
    hold_waiting()
    assert Trail.objects.filter(subject=LETTERS, deed=Deed.HELD).count() == 1
    of_the_clock(THURSDAY)
    let_round_go(Round.objects.latest("pk"), by=desk, now=NOW)
    assert not rounds_are_held_after_restore()


@pytest.mark.usefixtures("brought_back")
def test_the_desk_reads_why_and_that_its_rounds_wait_too(signed_in: Callable[..., Client]) -> None:
    client = signed_in("desk")
    assert "The next round is held for you" in client.get(reverse("letters:held")).content.decode()
    of_the_clock(THURSDAY)
    page = client.get(reverse("letters:round", args=[Round.objects.latest("pk").pk])).content.decode()
    assert "because a backup was brought back" in page
    # Before they decide, the desk sees what the journals know.
    assert f'href="{reverse("letters:held")}"' in page


@pytest.mark.parametrize("clock", [BEHIND, AHEAD], ids=["behind", "ahead"])
@pytest.mark.parametrize("by_command", [True, False], ids=["restore", "after_restore"])
def test_the_clock_of_the_machine_that_restored_makes_no_difference(
    due_piece: Make, desk: Staff, sink: MailSink, clock: datetime, by_command: bool
) -> None:
    due_piece()
    round_on(WEDNESDAY.isoformat())
    send()
    bring_back(clock, by_command=by_command)
    due_piece()
    recount(THURSDAY.isoformat())
    assert of_the_clock(THURSDAY).held is Unusual.RESTORED
    send()
    assert len(sink.messages) == 1
    let_round_go(Round.objects.latest("pk"), by=desk, now=NOW)
    assert of_the_clock(FRIDAY).held is None


@pytest.mark.parametrize("clock", [BEHIND, AHEAD], ids=["behind", "ahead"])
def test_a_word_that_stands_in_the_backup_is_none_about_the_restore_of_it(due_piece: Make, clock: datetime) -> None:
    due_piece()
    round_on(WEDNESDAY.isoformat())
    bring_back()
    assert go_on(by=None, now=NOW) == 1
    assert not rounds_are_held_after_restore()
    send()
    bring_back(clock)
    assert of_the_clock(THURSDAY).held is Unusual.RESTORED


def test_a_round_that_was_let_go_before_the_backup_is_no_word_about_the_restore_of_it(
    due_piece: Make, desk: Staff
) -> None:
    due_piece()
    bring_back()
    of_the_clock(WEDNESDAY)
    let_round_go(Round.objects.latest("pk"), by=desk, now=NOW)
    assert not rounds_are_held_after_restore()
    bring_back()
    assert of_the_clock(THURSDAY).held is Unusual.RESTORED


@pytest.mark.usefixtures("brought_back")
def test_restored_twice_in_a_row_the_round_of_between_that_the_desk_lets_go_is_no_word_about_the_second(
    desk: Staff,
) -> None:
    of_the_clock(THURSDAY)
    of_between = Round.objects.latest("pk")
    bring_back()
    let_round_go(of_between, by=desk, now=NOW)
    assert of_the_clock(FRIDAY).held is Unusual.RESTORED
    let_round_go(Round.objects.latest("pk"), by=desk, now=NOW)
    assert not rounds_are_held_after_restore()


def test_one_word_is_enough_for_two_restores_in_a_row(due_piece: Make, desk: Staff) -> None:
    due_piece()
    round_on(WEDNESDAY.isoformat())
    bring_back()
    of_the_clock(THURSDAY)
    bring_back()
    assert go_on(by=desk, now=NOW) == 1
    assert not rounds_are_held_after_restore()


def test_a_round_that_was_under_way_when_the_backup_was_made_is_no_word_however_it_ends(due_piece: Make) -> None:
    due_piece()
    round_on(WEDNESDAY.isoformat())
    under_way = Round.objects.create(day=THURSDAY, started_at=NOW)
    bring_back()
    Round.objects.filter(pk=under_way.pk).update(finished_at=AHEAD)
    assert rounds_are_held_after_restore()


def test_a_backup_without_any_round_is_held_until_the_first_is_let_go(due_piece: Make, desk: Staff) -> None:
    due_piece()
    bring_back(AHEAD)
    assert of_the_clock(WEDNESDAY).held is Unusual.RESTORED
    assert of_the_clock(THURSDAY).held is Unusual.RESTORED
    let_round_go(Round.objects.latest("pk"), by=desk, now=NOW)
    assert of_the_clock(FRIDAY).held is None


@pytest.mark.usefixtures("brought_back")
def test_whoever_confirms_a_round_has_looked_and_the_next_is_as_usual(due_piece: Make) -> None:
    assert daily_round(as_of=THURSDAY, now=NOW, asked=Asked.BY_HAND).held is Unusual.RESTORED
    assert daily_round(as_of=THURSDAY, now=NOW, asked=Asked.CONFIRMED).held is None
    assert of_the_clock(FRIDAY).held is None


def test_where_a_bad_restore_gives_new_rounds_low_numbers_they_are_held_until_the_machine_s_word(
    due_piece: Make, desk: Staff
) -> None:
    due_piece()
    Round.objects.create(pk=1_000_000, day=WEDNESDAY, started_at=NOW, finished_at=NOW, letters=1)
    bring_back()
    low = Round.objects.create(pk=900_000, day=THURSDAY, started_at=NOW, finished_at=NOW, unusual=Unusual.RESTORED)
    let_round_go(low, by=desk, now=NOW)
    assert rounds_are_held_after_restore()
    go_on(by=None, now=NOW)
    assert not rounds_are_held_after_restore()


@pytest.mark.usefixtures("brought_back")
def test_each_restore_stands_in_the_trail_also_where_nothing_new_is_held() -> None:
    bring_back()
    bring_back()
    told = Trail.objects.filter(subject__in=(LETTERS, RESTORED)).order_by("pk").values_list("deed", flat=True)
    assert list(told) == [Deed.HELD, "restore", Deed.HELD, "restore", Deed.HELD]


def test_journals_heard_again_after_a_round_was_held_ask_for_the_desk_s_word_about_a_later_one(
    due_piece: Make, desk: Staff
) -> None:
    """The machine cannot tell whether a backup was brought back once more, by other means than `restore`."""
    due_piece()
    bring_back()
    of_the_clock(WEDNESDAY)
    bring_back(by_command=False)
    let_round_go(Round.objects.latest("pk"), by=desk, now=NOW)
    assert of_the_clock(THURSDAY).held is Unusual.RESTORED
