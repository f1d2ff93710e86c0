"""A sender's handful: what is known of one letter is written with the next one's dot, and what was not begun goes back."""

import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection
from django.db.models import Q
from django.db.models.functions import Now
from django.test.utils import CaptureQueriesContext

from service_center.book.models import Piece
from service_center.intervals.rules import due_dates
from service_center.letters import faults
from service_center.letters.actions import lost, running, settling
from service_center.letters.actions.claiming import claim
from service_center.letters.actions.settling import Taken
from service_center.letters.models import Letter, OwnerLink
from service_center.letters.queries.contents import all_read_of
from tests.letters.conftest import NOW, round_on, send
from tests.letters.sink import MailSink

Make = Callable[..., Piece]


@pytest.fixture
def five(due_piece: Make, settings: Any, tmp_path: Path) -> list[int]:
    """Five letters of a day long past, in the order in which they go; a journal of their own."""
    settings.DATA_DIR = tmp_path
    for _piece in range(5):
        due_piece()
    round_on("2026-03-18")
    return list(Letter.objects.order_by("not_before", "pk").values_list("pk", flat=True))


def states() -> list[str]:
    return list(Letter.objects.order_by("not_before", "pk").values_list("state", flat=True))


def leases_run_out() -> None:
    Letter.objects.filter(lease_until__isnull=False).update(lease_until=Now() - timedelta(seconds=1))


def test_a_letter_costs_one_statement_beside_what_the_handful_costs(
    due_piece: Make, sink: MailSink, settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.DATA_DIR = tmp_path
    # A busy machine is no slow mail server: what was taken waits for the next letter, however long that takes here.
    monkeypatch.setattr("service_center.letters.smtp.SLOW_SECONDS", 60.0)
    monkeypatch.setattr(running, "SLOW_SECONDS", 60.0)
    for _piece in range(13):
        due_piece()
    round_on("2026-03-18")
    letters = list(Letter.objects.values_list("pk", flat=True))
    Letter.objects.update(state="held")
    counted = []
    for pieces in (1, 4, 8):  # the first one also keeps the house's words
        Letter.objects.filter(pk__in=[letters.pop() for _letter in range(pieces)]).update(state="waiting")
        with CaptureQueriesContext(connection) as statements:
            assert send().sent == pieces
        counted.append(len(statements))
    assert counted[2] - counted[1] == 4


def test_the_last_letter_is_written_down_without_a_next_one(five: list[int], sink: MailSink) -> None:
    assert send().sent == 5
    assert states() == ["sent"] * 5
    assert not Letter.objects.filter(lease_until__isnull=False).exists()


def test_what_a_stopped_sender_has_not_begun_goes_back_as_if_it_had_never_been_claimed(
    five: list[int], sink: MailSink
) -> None:
    result = send(may_go_on=lambda: sink.count < 2)
    assert (result.sent, result.waiting) == (2, 3)
    assert states() == ["sent", "sent", "waiting", "waiting", "waiting"]
    assert list(Letter.objects.order_by("not_before", "pk").values_list("attempt", flat=True)) == [1, 1, 0, 0, 0]
    # The secrets of what was not sent are nobody's.
    assert set(OwnerLink.objects.values_list("letter", flat=True)) == set(five[:2])
    assert send().sent == 3
    assert len({mail.message_id for mail in sink.messages}) == sink.count == 5


@pytest.mark.usefixtures("five")
def test_the_largest_claim_goes_back_whole() -> None:
    now = datetime(2026, 3, 18, 12, tzinfo=UTC)
    _taken, claims = claim(Q(), by="we", at_most=5, on=date(2026, 3, 18), now=now)
    assert states() == ["handing_over"] * 5
    others = [replace(claims[0], letter=10_000 + n) for n in range(running.LARGEST_CLAIM - len(claims))]
    settling.give_back([*others, *claims])
    assert states() == ["waiting"] * 5
    assert not OwnerLink.objects.exists()


def test_an_error_of_one_letter_gives_the_others_back_and_writes_down_what_is_known(
    five: list[int], sink: MailSink
) -> None:
    faults.plan("before_dot:raise:3")
    try:
        with pytest.raises(faults.InjectedFault):
            send()
    finally:
        faults.plan("")
    assert states() == ["sent", "sent", "handing_over", "waiting", "waiting"]
    leases_run_out()
    assert send().sent == 3
    assert len({mail.message_id for mail in sink.messages}) == sink.count == 5


def test_a_record_that_cannot_be_told_of_holds_its_own_letter_and_no_other(
    five: list[int], sink: MailSink, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = iter(range(5))

    def third_breaks(*arguments: Any, **more: Any) -> Any:
        if next(told) == 2:
            raise ValueError("a date that no calendar has")
        return due_dates(*arguments, **more)

    monkeypatch.setattr("service_center.letters.queries.contents.due_dates", third_breaks)
    assert send().sent == 4
    assert states() == ["sent", "sent", "held", "sent", "sent"]


def test_what_a_claimed_letter_says_is_read_with_the_claim(five: list[int]) -> None:
    tell = all_read_of(list(Letter.objects.select_related("owner")), now=NOW)
    with CaptureQueriesContext(connection) as statements:
        assert {tell[letter]().owner_name for letter in five}
    assert not statements.captured_queries


def test_while_the_server_takes_its_time_what_is_known_is_written_down(
    five: list[int], sink: MailSink, monkeypatch: pytest.MonkeyPatch
) -> None:
    noted: list[float] = []
    note = settling.note_taken

    def timed(taken: Taken) -> None:
        noted.append(time.monotonic())
        note(taken)

    monkeypatch.setattr(settling, "note_taken", timed)
    began: list[float] = []

    def after_the_first() -> None:
        if not began:
            sink.fail("mail", 2.0)
            began.append(time.monotonic())

    send(on_letter=after_the_first)
    assert noted[0] - began[0] < 1.5
    assert sink.count == 4


def test_a_slow_answer_to_the_dot_is_written_down_at_once(
    five: list[int], sink: MailSink, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_the_next: list[bool] = []
    commit = settling.commit_the_dot

    def seen(one: Any, *, before: Taken | None) -> bool:
        with_the_next.append(before is not None)
        return commit(one, before=before)

    monkeypatch.setattr(settling, "commit_the_dot", seen)
    sink.think = lambda: 2 * running.SLOW_SECONDS
    assert send().sent == 5
    assert with_the_next == [False] * 5


@pytest.mark.parametrize("decision", ["in_doubt", "sent_again"])
def test_the_dot_of_the_next_letter_touches_no_other_attempt_of_the_one_before(
    five: list[int], sink: MailSink, decision: str
) -> None:
    """The one before was given up meanwhile: its late 250 settles the doubt, but not what a person decided since."""
    Letter.objects.filter(pk__in=five[:2]).update(state="handing_over", attempt=1, claimed_by="we")
    this, before = (a_claim(letter, attempt=1) for letter in five[:2])
    if decision == "in_doubt":
        Letter.objects.filter(pk=five[1]).update(state="in_doubt")
    else:
        Letter.objects.filter(pk=five[1]).update(state="handing_over", attempt=2, claimed_by="others")
    assert settling.commit_the_dot(this, before=Taken(before, "250 queued"))
    assert states()[:2] == ["at_the_dot", "sent" if decision == "in_doubt" else "handing_over"]


def test_a_dot_that_is_not_ours_any_more_still_writes_down_the_letter_before(five: list[int], sink: MailSink) -> None:
    Letter.objects.filter(pk=five[0]).update(state="handing_over", attempt=2, claimed_by="others")
    Letter.objects.filter(pk=five[1]).update(state="at_the_dot", attempt=1, claimed_by="we")
    this, before = (a_claim(letter, attempt=1) for letter in five[:2])
    assert not settling.commit_the_dot(this, before=Taken(before, "250 queued"))
    assert states()[:2] == ["handing_over", "sent"]


def a_claim(letter: int, *, attempt: int) -> Any:
    """As much of a claim as these need."""
    return SimpleNamespace(letter=letter, attempt=attempt, by="we")


def test_the_journal_settles_what_a_sender_that_died_could_not_tell(five: list[int], sink: MailSink) -> None:
    send(may_go_on=lambda: sink.count < 1)
    # As if it had died between the server's word and the commit.
    Letter.objects.filter(pk=five[0]).update(state="at_the_dot", sent_at=None, reply="", lease_until=Now())
    leases_run_out()
    assert lost.put_back_the_abandoned() == (0, 0)
    letter = Letter.objects.get(pk=five[0])
    assert (letter.state, letter.reply, letter.reason) == ("sent", "250 2.0.0 queued as 1", lost.BY_THE_JOURNAL)


@pytest.mark.parametrize("change", ["attempt", "secrets", "torn"])
def test_a_journal_that_speaks_of_another_attempt_or_another_book_settles_nothing(
    five: list[int], sink: MailSink, settings: Any, change: str
) -> None:
    send(may_go_on=lambda: sink.count < 1)
    Letter.objects.filter(pk=five[0]).update(state="at_the_dot", lease_until=Now())
    leases_run_out()
    if change == "attempt":
        Letter.objects.filter(pk=five[0]).update(attempt=2)
    elif change == "secrets":
        OwnerLink.objects.all().delete()
    else:
        file = settings.DATA_DIR / "sent.journal"
        file.write_text(file.read_text()[:-40])
    assert lost.put_back_the_abandoned() == (0, 1)
