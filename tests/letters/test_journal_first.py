"""The journal's line of a letter is on the disk before the database says "sent", whatever happens around it.

Otherwise a power cut leaves a book that knows of a letter and a journal that does not, and after a restore the letter
goes out again (design/reliability.md, B3). What is on the disk is what the file held when the kernel last brought it
there at our word.
"""

import os
import time
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.db.models.functions import Now

from service_center.book.models import Piece
from service_center.letters import faults, journal
from service_center.letters.actions import lost, running, settling
from service_center.letters.actions.claiming import Claim
from service_center.letters.actions.settling import Taken
from service_center.letters.models import Letter
from service_center.letters.rules.journal import Gone
from tests.letters.conftest import round_on, send
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
LETTERS = 5


@dataclass
class Disk:
    """What is on it, of which letters the database was told "sent", and of which of them before they were there.

    `refuses`: raised instead, once.
    """

    holds: bytes = b""
    told: list[int] = field(default_factory=list)
    too_early: list[int] = field(default_factory=list)
    refuses: BaseException | None = None

    def is_asked(self, letter: int, message_id: str) -> None:
        self.told.append(letter)
        if f'"{message_id}"'.encode() not in self.holds:
            self.too_early.append(letter)


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Path) -> Disk:
    """A disk that is watched: the real call is made, and what the database is told is held against it."""
    settings.DATA_DIR = tmp_path
    disk = Disk()
    bring, commit, note = os.fdatasync, settling.commit_the_dot, settling.note_taken

    def brought(handle: int) -> None:
        if disk.refuses:
            refused, disk.refuses = disk.refuses, None
            raise refused
        bring(handle)
        disk.holds = journal.file().read_bytes()

    def at_the_dot(one: Claim, *, before: Taken | None = None) -> bool:
        if before:
            disk.is_asked(before.claim.letter, before.claim.message_id)
        return commit(one, before=before)

    def noted(taken: Taken) -> None:
        disk.is_asked(taken.claim.letter, taken.claim.message_id)
        note(taken)

    monkeypatch.setattr(os, "fdatasync", brought)
    monkeypatch.setattr(settling, "commit_the_dot", at_the_dot)
    monkeypatch.setattr(settling, "note_taken", noted)
    return disk


@pytest.fixture
def letters(disk: Disk, due_piece: Make) -> list[int]:
    """Letters of a day long past, in the order in which they go."""
    for _letter in range(LETTERS):
        due_piece()
    round_on("2026-03-18")
    return list(Letter.objects.order_by("not_before", "pk").values_list("pk", flat=True))


@pytest.fixture(params=[False, True], ids=["one command at a time", "commands together"])
def server(request: pytest.FixtureRequest, sink: MailSink) -> Iterator[MailSink]:
    """Servers of both kinds (RFC 2920). No fault outlives a test."""
    sink.pipelining = request.param
    yield sink
    faults.plan("")


def holds_for_all_that_are_sent(disk: Disk) -> bool:
    sent = set(Letter.objects.filter(state="sent").values_list("pk", flat=True))
    return disk.too_early == [] and set(disk.told) == sent != set()


@pytest.mark.parametrize(
    ("phase", "failure"),
    [
        ("rset", "drop"),  # never comes: every letter goes
        ("mail", "421 4.7.0 enough for one line"),
        ("mail", "451 4.3.0 not now"),
        ("rcpt", "550 5.1.1 no such mailbox"),
        ("data", "drop"),
        ("dot", "452 4.3.1 full"),
        ("dot", "421 4.3.2 closing"),
        ("after", "drop"),
    ],
)
def test_whatever_the_server_does_with_the_next_letter(
    letters: list[int], disk: Disk, server: MailSink, phase: str, failure: str
) -> None:
    planned = []

    def after_the_first() -> None:
        if not planned:
            planned.append(server.fail(phase, failure))

    assert send(on_letter=after_the_first).sent >= LETTERS - 1
    assert holds_for_all_that_are_sent(disk)


def test_on_a_new_line_and_with_a_server_that_takes_its_time(
    letters: list[int], disk: Disk, server: MailSink, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(running, "LETTERS_A_LINE", 2)
    server.think = lambda: 1.5 * running.SLOW_SECONDS if server.count % 2 else 0.0
    assert send().sent == LETTERS
    assert server.connections > 1
    assert holds_for_all_that_are_sent(disk)


def test_where_the_next_letter_cannot_be_written(letters: list[int], disk: Disk, server: MailSink) -> None:
    faults.plan("composing:raise:3")
    assert send().sent == LETTERS - 1
    assert holds_for_all_that_are_sent(disk)


def test_where_the_sender_is_told_to_stop(letters: list[int], disk: Disk, server: MailSink) -> None:
    assert send(may_go_on=lambda: server.count < 2).sent == 2
    assert holds_for_all_that_are_sent(disk)


@pytest.mark.parametrize("point", ["before_dot", "at_the_dot", "after_dot", "after_reply", "journaled"])
def test_where_the_sender_comes_to_grief(letters: list[int], disk: Disk, server: MailSink, point: str) -> None:
    faults.plan(f"{point}:raise:2")
    with pytest.raises(faults.InjectedFault):
        send()
    assert holds_for_all_that_are_sent(disk)


def test_where_a_person_interrupts_the_sender_while_the_disk_works(
    letters: list[int], disk: Disk, server: MailSink
) -> None:
    def after_the_first() -> None:
        if server.count == 1:
            disk.refuses = KeyboardInterrupt()

    with pytest.raises(KeyboardInterrupt):
        send(on_letter=after_the_first)
    assert Letter.objects.get(pk=letters[0]).state == "sent"
    assert holds_for_all_that_are_sent(disk)


@pytest.mark.parametrize("refuses", [False, True], ids=["a sound disk", "a disk that fails"])
def test_what_a_killed_sender_wrote_is_believed_only_once_it_is_there(
    letters: list[int], disk: Disk, sink: MailSink, *, refuses: bool
) -> None:
    """Its line outlives the process at once, and the machine only once somebody has brought it to the disk."""
    send(may_go_on=lambda: sink.count < 1)
    over = Now() - timedelta(seconds=1)
    Letter.objects.filter(pk=letters[0]).update(state="at_the_dot", sent_at=None, reply="", lease_until=over)
    message_id = Letter.objects.get(pk=letters[0]).message_id or ""
    disk.holds, disk.told = b"", []
    if refuses:
        disk.refuses = OSError("the disk fails")

    def watched(execute: Callable[..., Any], statement: str, values: Any, *more: Any) -> Any:
        if lost.BY_THE_JOURNAL in (values or ()):
            disk.is_asked(letters[0], message_id)
        return execute(statement, values, *more)

    with connection.execute_wrapper(watched):
        assert lost.put_back_the_abandoned() == (0, int(refuses))
    assert Letter.objects.get(pk=letters[0]).state == ("in_doubt" if refuses else "sent")
    assert (disk.told, disk.too_early) == ([] if refuses else letters[:1], [])


@pytest.mark.django_db(transaction=True)
def test_nobody_waits_for_the_disk_while_the_book_is_kept_from_others(
    letters: list[int], sink: MailSink, monkeypatch: pytest.MonkeyPatch
) -> None:
    send(may_go_on=lambda: sink.count < 1)
    over = Now() - timedelta(seconds=1)
    Letter.objects.filter(pk=letters[0]).update(state="at_the_dot", sent_at=None, reply="", lease_until=over)
    read, within = journal.lately_of, []

    def watched(message_ids: Collection[str]) -> list[Gone]:
        within.append(connection.in_atomic_block)
        return read(message_ids)

    monkeypatch.setattr(journal, "lately_of", watched)
    assert lost.put_back_the_abandoned() == (0, 0)
    assert (within, Letter.objects.get(pk=letters[0]).state) == ([False], "sent")


def test_a_thousand_letters_are_looked_for_in_the_time_of_one(letters: list[int], sink: MailSink) -> None:
    send(may_go_on=lambda: sink.count < 1)
    line = journal.file().read_text()
    journal.file().write_text(line * 10_000)
    [known] = Letter.objects.filter(state="sent").values_list("message_id", flat=True)

    def seconds(wanted: list[str]) -> float:
        began = time.monotonic()
        journal.lately_of(wanted)
        return time.monotonic() - began

    others = [f"<letter.{n}.{'0' * 24}@owners.example>" for n in range(1_000)]
    assert len(journal.lately_of([*others, str(known)])) == 10_000
    assert seconds(others) < 10 * min(seconds(others[:1]) for _time in range(3)) + 0.1
