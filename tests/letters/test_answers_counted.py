"""The answers of a book that is slow to count are counted every hour, to the same figures as one counts by looking."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest

from service_center.book.models import Piece
from service_center.celery import app
from service_center.letters.actions import record_answer
from service_center.letters.answered.actions import count_answers
from service_center.letters.answered.models import AnswersCounted, AnswersOfDay
from service_center.letters.answered.queries import AnswerTables, answer_tables
from service_center.letters.models import Letter, Reminder
from service_center.letters.rules.words import AnswerChoice
from service_center.letters.tasks import count_answers as task
from service_center.owner_pages.actions import erase
from tests.factories import OwnerFactory, StaffFactory
from tests.letters.conftest import round_on, send
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
YEAR = (date(2026, 1, 1), date(2026, 12, 31))


def answer(piece: Piece, choice: AnswerChoice, day: date | None = None, on: date = date(2026, 6, 1)) -> None:
    letter = Letter.objects.filter(reminders__piece=piece).latest("pk")
    record_answer(
        owner=letter.owner, letter=letter, piece=None if choice is AnswerChoice.NO_MORE_LETTERS else piece,
        choice=choice, day=day, boutique=None, on=on, by=None,
    )  # fmt: skip


def as_one_looks() -> AnswerTables:
    AnswersCounted.objects.update(seconds=0.0)
    found = answer_tables(*YEAR, now=NOW)
    assert found.counted_at is None
    return found


def as_counted() -> AnswerTables:
    count_answers(now=NOW)
    AnswersCounted.objects.update(seconds=40.0)
    found = answer_tables(*YEAR, now=NOW)
    assert found.counted_at == NOW
    return found


def same(one: AnswerTables, other: AnswerTables) -> bool:
    return (one.by_step, one.by_month, one.all) == (other.by_step, other.by_month, other.all)


@pytest.fixture
def invited(due_piece: Make, sink: MailSink) -> list[Piece]:
    """Four pieces, of which two have one owner: all invited in March, the last two of them again in April."""
    owner = OwnerFactory()
    pieces = [due_piece(owner=owner), due_piece(owner=owner), due_piece(), due_piece()]
    round_on("2026-03-18")
    send("2026-03-18")
    for piece in pieces[:2]:
        answer(piece, AnswerChoice.NOT_NOW, date(2026, 9, 1), on=date(2026, 4, 1))
    round_on("2026-04-29")
    send("2026-04-29")
    return pieces


def test_what_is_kept_are_the_figures_that_one_finds_by_looking(invited: list[Piece]) -> None:
    kept = as_counted()
    assert same(kept, as_one_looks())
    assert (kept.all.sent, kept.all.by_choice) == (6, {AnswerChoice.NOT_NOW: 2})
    assert [(month, one.sent) for month, one in kept.by_month.items()] == [(date(2026, 4, 1), 2), (date(2026, 3, 1), 4)]


def test_a_changed_answer_counts_by_its_latest_word(invited: list[Piece]) -> None:
    as_counted()
    answer(invited[0], AnswerChoice.DONE_ELSEWHERE, date(2026, 5, 1))
    kept = as_counted()
    assert kept.all.by_choice == {AnswerChoice.NOT_NOW: 1, AnswerChoice.DONE_ELSEWHERE: 1}
    assert same(kept, as_one_looks())


def test_no_more_letters_answers_for_every_piece_of_its_letter(invited: list[Piece]) -> None:
    answer(invited[0], AnswerChoice.NO_MORE_LETTERS)
    kept = as_counted()
    assert kept.all.by_choice == {AnswerChoice.NO_MORE_LETTERS: 2}
    assert same(kept, as_one_looks())


def test_reminders_that_ended_before_they_went_out_are_not_counted(invited: list[Piece]) -> None:
    round_on("2027-05-17")  # the last letters, which wait
    assert Letter.objects.filter(state="waiting").exists()
    answer(invited[2], AnswerChoice.DONE_ELSEWHERE, date(2026, 5, 1))
    assert Reminder.objects.exclude(ended_on=None).exists()
    kept = as_counted()
    assert kept.all.sent == 6
    assert same(kept, as_one_looks())


def test_an_erased_owners_letters_and_answers_still_count(invited: list[Piece]) -> None:
    before = as_counted()
    owner = invited[0].owner
    assert owner is not None
    erase(owner, on=date(2026, 11, 25), by=StaffFactory(role="manager"), now=NOW)
    kept = as_counted()
    assert same(kept, as_one_looks())
    assert same(kept, before)


def test_a_part_of_the_time_is_taken_from_its_days(invited: list[Piece]) -> None:
    as_counted()
    for first, last in ((date(2026, 3, 18), date(2026, 4, 28)), (date(2026, 3, 19), date(2026, 4, 29))):
        kept = answer_tables(first, last, now=NOW)
        AnswersCounted.objects.update(seconds=0.0)
        assert same(kept, answer_tables(first, last, now=NOW))
        AnswersCounted.objects.update(seconds=40.0)
    assert answer_tables(date(2026, 3, 19), date(2026, 4, 28), now=NOW).all.sent == 0


def test_what_nobody_counted_for_a_day_is_counted_as_one_looks(invited: list[Piece]) -> None:
    as_counted()
    assert answer_tables(*YEAR, now=NOW + timedelta(hours=25)).counted_at == NOW
    assert answer_tables(*YEAR, now=NOW + timedelta(hours=27)).counted_at is None


def test_the_counting_before_the_last_stays_for_whoever_reads_it_and_older_ones_go(invited: list[Piece]) -> None:
    for _hour in range(4):
        count_answers(now=NOW)
    assert AnswersCounted.objects.count() == 2
    assert AnswersOfDay.objects.count() == 4


def test_the_timetable_asks_for_it_every_hour() -> None:
    assert app.conf.beat_schedule["count_answers"]["task"] == task.name
