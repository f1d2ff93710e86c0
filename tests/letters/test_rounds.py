"""The round on a real book: who gets a letter, who does not, and why."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from service_center.book.actions import move_piece
from service_center.book.models import Owner, Piece
from service_center.book.rules import Place
from service_center.intervals.actions import bring_to
from service_center.intervals.models import DueDate
from service_center.letters.actions import end_reminders, record_answer, round_of_the_day
from service_center.letters.models import Letter, Reminder, Round, StoppedAddress
from service_center.letters.rules.deciding import Reason
from service_center.letters.rules.words import AnswerChoice, LetterState
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, history
from tests.letters.conftest import NOW, only_letter, recount, round_on, send
from tests.letters.sink import MailSink

Make = Callable[..., Piece]


def in_workshop(piece: Piece, day: str) -> Piece:
    """The piece has been in the workshop since an ISO day."""
    at = datetime.combine(date.fromisoformat(day), time(9), UTC)
    move_piece(piece, to=Place.WORKSHOP, boutique=None, at=at, by=None)
    return piece


def reasons(day: str) -> dict[str, str]:
    return {one.serial: one.reason.value for one in round_on(day).not_written}


def test_a_round_writes_one_letter_with_its_reminder(due_piece: Make) -> None:
    piece = due_piece()
    result = round_on("2026-03-18")
    assert (result.reminders, result.letters, list(result.not_written)) == (1, 1, [])
    reminder = Reminder.objects.get()
    assert (reminder.piece, reminder.kind, reminder.step) == (piece, "overhaul", "invitation")
    assert (reminder.starts_on, reminder.due_on) == (date(2019, 5, 17), date(2026, 5, 17))
    assert only_letter().not_before == datetime(2026, 3, 18, 9, 0, tzinfo=UTC)


def test_the_same_round_again_writes_nothing(due_piece: Make) -> None:
    due_piece()
    round_on("2026-03-18")
    again = round_on("2026-03-18")
    assert (again.reminders, again.letters) == (0, 0)
    assert Round.objects.filter(finished_at__isnull=False).count() == 2


def test_a_round_again_leaves_an_owner_whose_letter_was_refused_today_to_the_next_day(
    due_piece: Make, sink: MailSink
) -> None:
    """An owner has one letter a day, and the desk may have the refused one tried again. The others have theirs."""
    piece = due_piece()
    round_on("2026-03-18")
    sink.fail("rcpt", "550 5.7.1 policy")
    assert send().refused == 1
    second = due_piece(owner=piece.owner)
    due_piece()
    recount("2026-03-18")
    again = round_on("2026-03-18")
    assert [(one.serial, one.reason) for one in again.not_written] == [(second.serial, Reason.LETTER_ON_ITS_WAY)]
    assert again.letters == 1
    assert round_on("2026-03-19").letters == 1
    assert Reminder.objects.get(piece=second).letter.planned_on == date(2026, 3, 19)


def test_a_dry_run_says_the_same_and_leaves_nothing(due_piece: Make) -> None:
    due_piece()
    assert round_on("2026-03-18", dry_run=True).letters == 1
    assert not Letter.objects.exists()
    assert not Round.objects.exists()
    assert round_on("2026-03-18").letters == 1


def test_the_nudge_follows_the_letter_that_went_out(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    round_on("2026-03-18")
    send()
    assert round_on("2026-04-28").reminders == 0
    assert round_on("2026-04-29").reminders == 1
    send()
    assert list(Reminder.objects.order_by("pk").values_list("step", flat=True)) == ["invitation", "nudge"]
    assert [mail.subject for mail in sink.messages] == ["Your Skerry: time for an overhaul"] * 2
    assert "We wrote to you about a watch of yours." in " ".join(sink.messages[1].text.split())


def test_no_nudge_while_the_invitation_is_still_here(due_piece: Make) -> None:
    due_piece()
    round_on("2026-03-18")
    assert round_on("2026-06-01").reminders == 0


def test_all_of_an_owners_pieces_travel_in_one_letter(due_piece: Make, sink: MailSink) -> None:
    owner = OwnerFactory()
    for sold_on in ("2019-05-17", "2019-05-20", "2019-06-07"):
        due_piece(owner=owner, sold_on=date.fromisoformat(sold_on))
    due_piece(owner=owner, sold_on=date(2019, 6, 8))
    result = round_on("2026-03-18")
    assert (result.reminders, result.letters) == (3, 1)


def test_what_falls_due_while_a_letter_waits_joins_it(due_piece: Make) -> None:
    owner = OwnerFactory()
    due_piece(owner=owner)
    due_piece(owner=owner, sold_on=date(2019, 8, 1))
    round_on("2026-03-18")
    later = round_on("2026-06-02")
    assert (later.reminders, later.letters, Letter.objects.count()) == (1, 0, 1)


def test_at_most_one_letter_in_28_days(due_piece: Make, sink: MailSink) -> None:
    owner = OwnerFactory()
    due_piece(owner=owner)
    near = due_piece(owner=owner, sold_on=date(2019, 6, 10))
    round_on("2026-03-18")
    send()
    assert reasons("2026-04-14") == {near.serial: "letter_not_long_ago"}
    assert round_on("2026-04-15").letters == 1


def test_who_is_not_written_to_is_named_with_the_reason(due_piece: Make) -> None:
    bounced = OwnerFactory()
    StoppedAddress.objects.create(email=bounced.email.lower(), stopped_at=NOW, because="550 5.1.1")
    expected = {
        due_piece(owner=OwnerFactory(letters=False)): "no_more_letters",
        due_piece(owner=OwnerFactory(letters=None)): "no_consent",
        due_piece(owner=OwnerFactory(email="")): "no_email",
        due_piece(owner=None): "no_owner",
        due_piece(owner=bounced): "address_stopped",
        due_piece(status="stolen"): "held_stolen",
        in_workshop(due_piece(), "2026-03-10"): "held_workshop",
        due_piece(owner=OwnerFactory(country="FR"), boutique=None): None,
    }
    result = round_on("2026-03-18")
    assert result.letters == 1
    assert {one.serial: one.reason.value for one in result.not_written} == {
        piece.serial: reason for piece, reason in expected.items() if reason
    }


def test_a_piece_with_two_kinds_due_is_named_once(due_piece: Make) -> None:
    PieceFactory(owner=OwnerFactory(letters=False))  # rated: both kinds are due
    assert len(round_on("2026-11-25").not_written) == 1


def test_letters_go_on_working_days_of_the_owners_country_only(due_piece: Make) -> None:
    """Whit Monday, 25 May 2026, is free in France and in England (bank holiday), and worked in Japan (facts.md, 10)."""
    french, english = OwnerFactory(country="FR"), OwnerFactory(country="GB")
    japanese = OwnerFactory(country="JP", time_zone="Asia/Tokyo")
    for owner in (french, english, japanese):
        due_piece(owner=owner)
    result = round_on("2026-05-25")
    assert only_letter().owner == japanese
    assert {one.reason.value for one in result.not_written} == {"not_a_working_day"}
    assert round_on("2026-05-26").letters == 2


def test_an_owner_without_country_and_zone_takes_those_of_the_pieces_boutique(due_piece: Make) -> None:
    boutique = BoutiqueFactory(country="JP", time_zone="Asia/Tokyo")
    due_piece(owner=OwnerFactory(country="", time_zone=""), boutique=boutique)
    assert round_on("2026-05-04").letters == 0  # Greenery Day
    round_on("2026-05-07")
    assert only_letter().not_before == datetime(2026, 5, 7, 0, 0, tzinfo=UTC)


def test_an_owner_whose_country_is_known_is_not_written_to_in_the_morning_of_a_boutique_abroad(due_piece: Make) -> None:
    boutique = BoutiqueFactory(country="JP", time_zone="Asia/Tokyo")
    due_piece(owner=OwnerFactory(country="DE", time_zone=""), boutique=boutique)
    round_on("2026-03-18")
    assert only_letter().not_before == datetime(2026, 3, 18, 8, 0, tzinfo=UTC)


def test_an_answer_stops_the_nudge(due_piece: Make, sink: MailSink) -> None:
    piece = due_piece()
    round_on("2026-03-18")
    send()
    letter = only_letter()
    record_answer(
        owner=letter.owner, letter=letter, piece=piece, choice=AnswerChoice.BOOKED, day=date(2026, 4, 2),
        boutique=piece.boutique, on=date(2026, 3, 20), by=None,
    )  # fmt: skip
    assert round_on("2026-05-06").reminders == 0


def test_a_service_ends_what_has_not_gone_out_and_starts_anew(due_piece: Make) -> None:
    piece = due_piece()
    round_on("2026-03-18")
    history(piece, "2026-03-18", tightness="not_tested")
    recount("2026-03-18")
    assert end_reminders(piece, on=date(2026, 3, 18), because="an overhaul was done") == 1
    assert only_letter().state == LetterState.ENDED
    assert round_on("2026-03-19").reminders == 0


def test_what_went_out_is_never_ended(due_piece: Make, sink: MailSink) -> None:
    piece = due_piece()
    round_on("2026-03-18")
    send()
    history(piece, "2026-04-01", tightness="not_tested")
    recount("2026-04-01")
    assert end_reminders(piece, on=date(2026, 4, 1), because="an overhaul was done") == 0
    assert Reminder.objects.get().ended_on is None


def test_a_letter_keeps_the_pieces_that_are_still_due(due_piece: Make, sink: MailSink) -> None:
    owner = OwnerFactory()
    done, due = due_piece(owner=owner), due_piece(owner=owner)
    round_on("2026-03-18")
    history(done, "2026-03-18", tightness="not_tested")
    recount("2026-03-18")
    end_reminders(done, on=date(2026, 3, 18), because="an overhaul was done")
    send()
    [mail] = sink.messages
    assert due.serial in mail.text
    assert done.serial not in mail.text


def test_a_reminder_that_ended_before_it_went_out_is_taken_up_again(due_piece: Make, sink: MailSink) -> None:
    """The piece came to the workshop and went back without a service: the interval still runs."""
    piece = due_piece()
    round_on("2026-03-18")
    in_workshop(piece, "2026-03-18")
    recount("2026-03-18")
    assert end_reminders(piece, on=date(2026, 3, 18), because="the piece is in the workshop") == 1
    move_piece(piece, to=Place.OWNER, boutique=None, at=datetime(2026, 3, 24, 9, tzinfo=UTC), by=None)
    recount("2026-03-25")
    assert round_on("2026-03-25").reminders == 1
    assert Reminder.objects.count() == 1
    assert send().sent == 1


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"letters": False}, "no_more_letters"),
        ({"email": ""}, "no_email"),
        ({"email": "ada@owners.example, eve@owners.example"}, "no_email"),
    ],
)
def test_what_changed_since_it_was_written_counts_when_it_is_to_go(
    due_piece: Make, sink: MailSink, change: dict[str, Any], reason: str
) -> None:
    due_piece()
    round_on("2026-03-18")
    Owner.objects.update(**change)
    assert send().sent == 0
    assert (only_letter().state, only_letter().reason) == (LetterState.ENDED, reason)
    assert sink.messages == []


def test_a_piece_that_is_held_since_its_letter_was_written_is_not_spoken_of(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    round_on("2026-03-18")
    DueDate.objects.update(held="stolen")
    assert send().sent == 0
    assert (only_letter().state, sink.messages) == ("ended", [])


def test_an_address_that_was_stopped_since_its_letter_was_written_gets_none(due_piece: Make, sink: MailSink) -> None:
    piece = due_piece()
    round_on("2026-03-18")
    assert piece.owner is not None
    StoppedAddress.objects.create(email=piece.owner.email.lower(), stopped_at=NOW, because="550 5.1.1")
    assert send().sent == 0
    assert (only_letter().state, only_letter().reason, sink.messages) == ("ended", "address_stopped", [])


def test_a_piece_that_changed_hands_is_not_spoken_of_to_its_former_owner(due_piece: Make, sink: MailSink) -> None:
    due_piece()
    round_on("2026-03-18")
    Piece.objects.update(owner=OwnerFactory())
    assert send().sent == 0
    assert only_letter().state == LetterState.ENDED


def test_the_rounds_day_begins_where_the_day_begins_first(due_piece: Make) -> None:
    due_piece(owner=OwnerFactory(time_zone="Pacific/Kiritimati"))
    assert round_of_the_day(now=datetime(2026, 3, 17, 17, 59, tzinfo=UTC)) is not None
    assert not Letter.objects.exists()
    assert round_of_the_day(now=datetime(2026, 3, 17, 18, 0, tzinfo=UTC)) is not None
    assert only_letter().not_before == datetime(2026, 3, 17, 19, 0, tzinfo=UTC)


def test_the_schedule_runs_each_days_round_once(due_piece: Make) -> None:
    now = datetime(2026, 3, 18, 6, 0, tzinfo=UTC)
    assert round_of_the_day(now=now) is not None
    assert round_of_the_day(now=now) is None
    assert Round.objects.count() == 1


def test_a_round_that_was_killed_is_run_again_once_it_is_given_up(due_piece: Make) -> None:
    Round.objects.create(day=date(2026, 3, 18), started_at=datetime(2026, 3, 18, 6, 0, tzinfo=UTC))
    assert round_of_the_day(now=datetime(2026, 3, 18, 6, 14, tzinfo=UTC)) is None
    assert round_of_the_day(now=datetime(2026, 3, 18, 6, 16, tzinfo=UTC)) is not None


def test_the_statements_of_a_round_do_not_grow_with_the_owners(due_piece: Make) -> None:
    counts = []
    for owners, day in ((5, "2026-03-18"), (40, "2026-03-19")):
        for _owner in range(owners):
            due_piece()
        bring_to(as_of=date.fromisoformat(day))
        recount(day)
        with CaptureQueriesContext(
            connection,
        ) as statements:
            assert round_on(day).letters == owners
        counts.append(len(statements))
    assert counts[1] <= counts[0]  # the first of all rounds asks once more whether there was one
