"""Where the time of a letter goes: the sender's promises, added to a bare hand-over one after another.

    python -m tests.bench.a_letter [letters [rounds]]

The rows are measured on the same messages, one row after another in each round, so that a busy machine slows all of
them alike; the figures are medians, the shares are of the plain loop of the same round. The plain loop is that of
`letters_per_second`: smtplib, one connection, messages already written, nothing remembered. The rows between it and
the sender claim nothing, check nothing and write no letter: they are what the promises alone cost.

- the house's line: its own conversation, nothing remembered
- a commit at each dot: that, and one UPDATE on the disk before each final dot, by the database's bare driver
- the sender's commit: that, by the sender's own statement, with `sent` for the letter before
- and its journal: that, and each reply on the disk before the next commit
- one sender: all of it
"""

import os
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from contextlib import ExitStack, closing
from dataclasses import dataclass
from datetime import date
from typing import Any

import django
from django.db import connection
from django.db.backends.sqlite3.base import Database
from django.db.models import Q
from django.test import override_settings

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service_center.settings")
django.setup()

from service_center.letters.actions import daily_round, settling  # noqa: E402  # after Django is set up
from service_center.letters.actions.claiming import Claim, claim  # noqa: E402
from service_center.letters.actions.settling import Taken  # noqa: E402
from service_center.letters.journal import Journal  # noqa: E402
from service_center.letters.models import Letter, OwnerLink  # noqa: E402
from service_center.letters.rules.handing import Outcome  # noqa: E402
from service_center.letters.rules.journal import Gone  # noqa: E402
from service_center.letters.rules.words import LetterState  # noqa: E402
from service_center.letters.smtp import Line, MailServer, on_the_wire  # noqa: E402
from tests.bench.letters_per_second import (  # noqa: E402
    NOW,
    all_sent,
    due_pieces,
    listening_servers,
    messages_of,
    plainly,
    send,
    started_process,
    test_database,
)
from tests.letters.sink import Received  # noqa: E402


@dataclass(frozen=True, slots=True)
class Given:
    """One message as it goes over the line, and the claim under which the row is a sender's."""

    mail: Received
    wire: bytes
    claim: Claim


class Promises:
    """What is done around each dot."""

    def __init__(self, *, journal: bool) -> None:
        self._journal = Journal() if journal else None
        self._before: Taken | None = None

    def bring_to_disk(self) -> None:
        if self._journal:
            self._journal.bring_to_disk()

    def commit(self, one: Given) -> bool:
        self.bring_to_disk()
        return settling.commit_the_dot(one.claim, before=self._before)

    def learn(self, one: Given, outcome: Outcome) -> None:
        self._before = Taken(one.claim, outcome.text)
        if self._journal:
            self._journal.add(Gone(one.claim.going, NOW, outcome.text))

    def close(self) -> None:
        if self._before:
            settling.note_taken(self._before)
        if self._journal:
            self._journal.close()


def main() -> None:
    count, rounds = (*[int(text) for text in sys.argv[1:]], 300, 5)[:2]
    with test_database(), ExitStack() as stack:
        due_pieces(count)
        daily_round(as_of=date(2026, 3, 18), now=NOW)
        port, servers = listening_servers(stack)
        sender = started_process(stack, send, connection.settings_dict["NAME"])
        stack.enter_context(override_settings(MAIL_CONFIGURED=True, EMAIL_HOST="127.0.0.1", EMAIL_PORT=port))
        all_sent([sender], port, servers, count)
        mails = messages_of(servers)
        rows: dict[str, Callable[[], float]] = {
            "plain smtplib loop": lambda: plainly(port, mails).seconds,
            "the house's line": lambda: _on_one_line(_given(mails), lambda _one: True, lambda _one, _outcome: None),
            "a commit at each dot": lambda: _with_a_bare_commit(_given(mails)),
            "the sender's commit": lambda: _with_promises(_given(mails), journal=False),
            "and its journal": lambda: _with_promises(_given(mails), journal=True),
            "one sender": lambda: all_sent([sender], port, servers, count).seconds,
        }
        found: dict[str, list[float]] = {name: [] for name in rows}
        for _round in range(rounds):
            for name, measure in rows.items():
                found[name].append(measure())
                messages_of(servers)
        print(f"{connection.vendor}: {count:,} letters, medians of {rounds} rounds")
        for name, seconds in found.items():
            shares = [plain / mine for plain, mine in zip(found["plain smtplib loop"], seconds, strict=True)]
            print(
                f"  {name:22s}{statistics.median(seconds) * 1000:7.2f} ms a letter, "
                f"{statistics.median(shares):.2f} of the plain loop ({min(shares):.2f} to {max(shares):.2f})"
            )


def _given(mails: Sequence[Received]) -> list[Given]:
    """All letters claimed anew, each with one of the messages."""
    OwnerLink.objects.all().delete()
    Letter.objects.update(state=LetterState.WAITING, attempt=0, dot_at=None, sent_at=None, reply="")
    _taken, claims = claim(Q(), by="bench", at_most=len(mails), on=NOW.date(), now=NOW)
    wires = [on_the_wire(mail.content) for mail in mails]
    return [Given(*one) for one in zip(mails, wires, claims, strict=True)]


def _on_one_line(
    given: Sequence[Given],
    commit: Callable[[Given], bool],
    learn: Callable[[Given, Outcome], None],
    while_answering: Callable[[], None] = lambda: None,
) -> float:
    """Seconds a letter."""
    with closing(Line(MailServer.of_the_house())) as line:
        began = time.perf_counter()
        for one in given:
            outcome = line.hand_over(
                sender=one.mail.sender,
                recipient=one.mail.recipients[0],
                message=one.wire,
                before_dot=lambda one=one: commit(one),
                while_answering=while_answering,
            )
            _taken(outcome, one, learn)
        return (time.perf_counter() - began) / len(given)


def _taken(outcome: Outcome | None, one: Given, learn: Callable[[Given, Outcome], None]) -> None:
    assert outcome is not None
    assert outcome.code == 250, outcome
    learn(one, outcome)


def _with_promises(given: Sequence[Given], *, journal: bool) -> float:
    with closing(Promises(journal=journal)) as promises:
        return _on_one_line(given, promises.commit, promises.learn, promises.bring_to_disk)


def _with_a_bare_commit(given: Sequence[Given]) -> float:
    connection.ensure_connection()
    place = "%s" if connection.vendor == "postgresql" else "?"
    statement = f"UPDATE letters_letter SET state = 'at_the_dot' WHERE id = {place}"

    def commit(one: Given) -> bool:
        driver: Any = connection.connection
        if connection.vendor == "postgresql":
            driver.pgconn.exec_params(statement.replace("%s", "$1").encode(), [str(one.claim.letter).encode()])
        else:
            Database.Cursor.execute(cursor, statement, [one.claim.letter])
        return True

    with closing(connection.connection.cursor()) as cursor:
        return _on_one_line(given, commit, lambda _one, _outcome: None)


if __name__ == "__main__":
    main()
