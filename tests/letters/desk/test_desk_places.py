"""The desk's places for letters: the weeks ahead, what owners answered."""

from collections import Counter
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from service_center.book.models import Piece
from service_center.book.rules import ServiceKind
from service_center.intervals.models import DueDate
from service_center.letters.actions import PlannedDay, plan_invitations, record_answer
from service_center.letters.answered.queries import answer_tables
from service_center.letters.models import Letter, Reminder
from service_center.letters.queries.ahead import counts_ahead, reminders_ahead
from service_center.letters.rules.ahead import weeks_ahead
from service_center.letters.rules.words import AnswerChoice, Step
from tests.factories import PieceFactory, StaffFactory, history
from tests.letters.conftest import NOW, only_letter, recount, round_on, send
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
OVERHAUL, TIGHTNESS = ServiceKind.OVERHAUL, ServiceKind.TIGHTNESS


@pytest.fixture
def desk(client: Client, db: None) -> Client:
    client.force_login(StaffFactory(role="desk"))
    return client


def test_what_comes_up_on_a_weekend_stands_on_the_monday_after_it() -> None:
    counts = {date(2026, 3, 21): 2, date(2026, 3, 22): 3, date(2026, 3, 23): 5, date(2026, 3, 20): 7}
    first, second = weeks_ahead(date(2026, 3, 18), 2, counts)
    assert first.monday == date(2026, 3, 16)
    assert [slot and slot.count for slot in first.slots] == [None, None, 0, 0, 7]
    assert [slot and slot.count for slot in second.slots] == [10, 0, 0, 0, 0]
    assert second.days[0].first == date(2026, 3, 21)
    assert (first.count, second.count) == (7, 10)


def test_a_week_that_is_looked_at_from_a_sunday_begins_with_its_monday() -> None:
    [one, _next] = weeks_ahead(date(2026, 3, 22), 2, {date(2026, 3, 22): 4})
    assert one.count == 0
    assert _next.count == 4 if _next.days[0].first == date(2026, 3, 22) else False


def test_each_step_stands_on_the_day_on_which_it_comes_up(due_piece: Make, sink: MailSink) -> None:
    due_piece()  # invited on 18 March 2026
    round_on("2026-03-01")
    assert counts_ahead(date(2026, 3, 2), date(2026, 5, 31)) == {(date(2026, 3, 18), OVERHAUL, Step.INVITATION): 1}
    [one] = reminders_ahead(date(2026, 3, 18), date(2026, 3, 18))
    assert (one.step, one.day) == (Step.INVITATION, date(2026, 3, 18))
    round_on("2026-03-18")
    send()
    assert counts_ahead(date(2026, 3, 19), date(2026, 6, 17)) == {(date(2026, 4, 29), OVERHAUL, Step.NUDGE): 1}
    round_on("2026-04-29")
    send()
    assert counts_ahead(date(2027, 4, 1), date(2027, 6, 30)) == {(date(2027, 5, 17), OVERHAUL, Step.LAST): 1}


def test_a_day_lists_what_it_counts_however_many_open_on_it(due_piece: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pieces that open on the day and are due much later came first, and the day's own was cut off."""
    monkeypatch.setattr("service_center.letters.queries.ahead.SHOWN", 1)
    opening = [due_piece(sold_on=date(2020, 3, 18)) for _piece in range(3)]  # open after 72 months: on 18 March 2026
    one = due_piece()
    recount("2026-03-01")
    day = date(2026, 3, 18)
    assert {due.opens_on for due in DueDate.objects.filter(piece__in=opening)} == {day}
    assert counts_ahead(day, day) == {(day, OVERHAUL, Step.INVITATION): 1}
    assert [row.due.piece for row in reminders_ahead(day, day)] == [one]


@pytest.mark.parametrize(
    ("planned", "comes"), [("2026-04-20", "2026-04-20"), ("2027-10-01", "2026-03-18"), ("2024-03-04", "2026-03-18")]
)
def test_a_planned_day_counts_where_it_lies_in_the_window(due_piece: Make, planned: str, comes: str) -> None:
    piece = due_piece()
    recount("2026-03-01")
    plan = PlannedDay(piece.pk, date(2019, 5, 17), date.fromisoformat(planned))
    plan_invitations([plan], at=datetime(2026, 1, 5, tzinfo=UTC), by=None)
    assert counts_ahead(date(2026, 3, 2), date(2027, 12, 31)) == {
        (date.fromisoformat(comes), OVERHAUL, Step.INVITATION): 1
    }


@pytest.mark.parametrize(
    ("choice", "said", "comes"),
    [
        (AnswerChoice.NOT_NOW, "2026-06-01", "2026-06-01"),
        (AnswerChoice.NOT_NOW, "2026-04-10", "2026-04-29"),
        (AnswerChoice.NOT_NOW, "2027-06-01", None),
        (AnswerChoice.BOOKED, "2026-06-01", None),
    ],
)
def test_what_an_owner_asked_back_stands_on_the_day_that_they_gave(
    due_piece: Make, sink: MailSink, choice: AnswerChoice, said: str, comes: str | None
) -> None:
    piece = due_piece()
    round_on("2026-03-18")
    send()
    letter = only_letter()
    record_answer(
        owner=letter.owner, letter=letter, piece=piece, choice=choice, day=date.fromisoformat(said),
        boutique=piece.boutique if choice is AnswerChoice.BOOKED else None,
        on=date(2026, 3, 20), by=None,
    )  # fmt: skip
    days = [date.fromisoformat(comes)] if comes else []
    assert counts_ahead(date(2026, 3, 21), date(2026, 8, 31)) == {(day, OVERHAUL, Step.NUDGE): 1 for day in days}
    for day in {date(2026, 4, 29), date(2026, 6, 1), *days}:
        assert [row.day for row in reminders_ahead(day, day)] == [day] * (day in days)
    # Looked at when the nudge's own day has passed.
    still = {(day, OVERHAUL, Step.NUDGE): 1 for day in days if day > date(2026, 5, 4)}
    assert counts_ahead(date(2026, 5, 4), date(2026, 8, 31)) == still


def test_all_that_owners_asked_back_is_counted_however_little_a_page_lists(
    due_piece: Make, sink: MailSink, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("service_center.letters.queries.ahead.LOOKED_AT", 1)
    for _owner in range(3):
        due_piece()
    round_on("2026-03-18")
    send()
    day = date(2026, 6, 1)
    for letter in Letter.objects.select_related("owner"):
        record_answer(
            owner=letter.owner, letter=letter, piece=letter.reminders.get().piece, choice=AnswerChoice.NOT_NOW, day=day,
            boutique=None, on=date(2026, 3, 20), by=None,
        )  # fmt: skip
    assert counts_ahead(date(2026, 3, 21), date(2026, 8, 31)) == {(day, OVERHAUL, Step.NUDGE): 3}


def test_a_visit_that_is_over_brings_the_last_letter_on_the_day_after_it(due_piece: Make, sink: MailSink) -> None:
    piece = due_piece()
    for day in ("2026-03-18", "2026-04-29"):
        round_on(day)
        send()
    letter = Letter.objects.latest("pk")
    record_answer(
        owner=letter.owner, letter=letter, piece=piece, choice=AnswerChoice.BOOKED, day=date(2027, 5, 20),
        boutique=piece.boutique, on=date(2027, 5, 1), by=None,
    )  # fmt: skip
    day = date(2027, 5, 21)
    assert counts_ahead(date(2027, 5, 10), date(2027, 7, 30)) == {(day, OVERHAUL, Step.LAST): 1}
    assert [row.step for row in reminders_ahead(day, day)] == [Step.LAST]


def test_the_42_days_count_from_the_day_a_letter_went_out(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    round_on("2026-03-18")
    send()
    Letter.objects.update(sent_at=datetime(2026, 3, 27, 10, tzinfo=UTC))
    assert counts_ahead(date(2026, 4, 1), date(2026, 6, 30)) == {(date(2026, 5, 8), OVERHAUL, Step.NUDGE): 1}
    [one] = reminders_ahead(date(2026, 5, 8), date(2026, 5, 8))
    assert one.step is Step.NUDGE


def test_checks_to_come_and_their_years(db: None, sink: MailSink) -> None:
    piece = PieceFactory(sold_on=date(2025, 4, 2))
    recount("2026-01-05")
    assert counts_ahead(date(2026, 1, 6), date(2026, 4, 6)) == {(date(2026, 3, 2), TIGHTNESS, Step.INVITATION): 1}
    for day in ("2026-03-02", "2026-04-13"):
        assert round_on(day).letters == 1
        send()
    assert counts_ahead(date(2027, 2, 1), date(2027, 5, 2)) == {(date(2027, 4, 2), TIGHTNESS, Step.YEARLY): 1}
    assert round_on("2027-04-02").letters == 1
    assert Reminder.objects.get(step="yearly").year == 2027
    assert round_on("2027-04-03").reminders == 0
    send("2027-04-03")
    assert round_on("2028-03-31").reminders == 0
    assert round_on("2028-04-03").reminders == 1
    assert set(Reminder.objects.filter(step="yearly").values_list("year", flat=True)) == {2027, 2028}
    history(piece, "2028-05-02", kind="tightness_check", case_opened=False)
    recount("2028-05-02")
    assert round_on("2028-06-01").reminders == 0


def test_each_day_lists_what_it_counts(db: None, sink: MailSink) -> None:
    """Of pieces at every step, some years overdue, some written to late, one due on a 29 February."""
    for number in range(30):
        piece = PieceFactory(model__rated_bar=10 if number % 2 else None, sold_on=None, made_on=None)
        history(piece, str(date(2017, 1, 10) + timedelta(days=61 * number)), tightness="passed")
    for number in range(6):
        piece = PieceFactory(model__rated_bar=10, sold_on=None, made_on=None)
        history(piece, str(date(2025, 2, 10) + timedelta(days=14 * number)), tightness="passed")
    for day in ("2024-03-01", "2024-09-02", "2025-03-03", "2026-02-02"):
        round_on(day)
        send(day)
        Letter.objects.filter(planned_on=day).update(
            sent_at=datetime.combine(date.fromisoformat(day), time(9), UTC) + timedelta(days=5)
        )
    leap = DueDate.objects.filter(kind="tightness", due_on__lt="2024-06-01").order_by("pk")[0]
    DueDate.objects.filter(pk=leap.pk).update(due_on=date(2024, 2, 29))
    steps = set()
    for begin, days in ((date(2026, 2, 3), 55), (date(2027, 2, 20), 12), (date(2028, 2, 20), 12)):
        for day in (begin + timedelta(days=ahead) for ahead in range(days)):
            listed = Counter((one.day, ServiceKind(one.due.kind), one.step) for one in reminders_ahead(day, day))
            assert listed == counts_ahead(day, day)
            steps |= {(kind, step) for _day, kind, step in listed}
    assert steps >= {
        (OVERHAUL, Step.INVITATION), (OVERHAUL, Step.NUDGE), (OVERHAUL, Step.LAST),
        (TIGHTNESS, Step.INVITATION), (TIGHTNESS, Step.NUDGE), (TIGHTNESS, Step.YEARLY),
    }  # fmt: skip


def test_answers_are_counted_by_step_and_month_and_the_latest_word_counts(due_piece: Make, sink: MailSink) -> None:
    piece = due_piece()
    due_piece()
    round_on("2026-03-18")
    send()
    letter = Letter.objects.get(owner=piece.owner)
    for choice, day in ((AnswerChoice.NOT_NOW, date(2026, 6, 1)), (AnswerChoice.DONE_ELSEWHERE, date(2026, 3, 1))):
        record_answer(
            owner=letter.owner, letter=letter, piece=piece, choice=choice, day=day, boutique=None,
            on=date(2026, 3, 20), by=None,
        )  # fmt: skip
    tables = answer_tables(date(2026, 3, 1), date(2026, 3, 31), now=NOW)
    one = tables.by_step[OVERHAUL, Step.INVITATION]
    assert (one.sent, one.answered, one.open, one.rate) == (2, 1, 1, 50.0)
    assert one.by_choice == {AnswerChoice.DONE_ELSEWHERE: 1}
    assert tables.by_month[date(2026, 3, 1)].sent == 2
    assert answer_tables(date(2026, 4, 1), date(2026, 4, 30), now=NOW).all.sent == 0


@time_machine.travel("2026-03-17 10:00", tick=False)
def test_the_pages_open_and_say_what_stands_in_the_book(due_piece: Make, desk: Client) -> None:
    piece = due_piece()
    recount("2026-03-17")
    page = desk.get(reverse("letters:desk")).content.decode()
    assert "18 March: 1 reminders" in page
    page = desk.get(reverse("letters:ahead"), {"day": "2026-03-18"}).content.decode()
    assert piece.serial in page
    assert piece.serial not in desk.get(reverse("letters:ahead"), {"day": "2026-03-19"}).content.decode()
    assert "No reminder went out" in desk.get(reverse("letters:answers")).content.decode()
    odd = desk.get(reverse("letters:answers"), {"first": "2026-03-02", "last": "2026-03-01"}).content.decode()
    assert "This day lies before the first one." in odd
    assert not Letter.objects.exists()


@time_machine.travel("2026-03-18 12:00", tick=False)
def test_answers_of_the_year_are_shown(due_piece: Make, desk: Client, sink: MailSink) -> None:
    due_piece()
    round_on("2026-03-18")
    send()
    page = desk.get(reverse("letters:answers")).content.decode()
    assert "Overhaul, invitation" in page and "0 %" in page
    assert only_letter().sent_at is not None
