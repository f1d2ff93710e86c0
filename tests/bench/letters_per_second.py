"""Letters a second, handed over by the house's senders, beside a plain smtplib loop into the same mail server.

    python -m tests.bench.letters_per_second [letters [rounds [apart]]]

The plain loop sends messages that are already written, over one connection, and remembers nothing. Ours claims,
checks, writes each letter in its owner's language, commits at the dot and notes the reply. Each round measures the
loop, one sender and four senders over the same letters, one after another, so that a busy machine slows all of them;
the figures are the medians. The mail server is two processes on one port, so that four senders meet more than one.
With `apart` the mail server has a core of its own and whoever sends another, as if it were another machine, loop and
senders alike; otherwise the system places all of them, the database too, as it likes.
It is asked both ways: answering one command after another, and taking commands together (RFC 2920), which smtplib
cannot use. Runs on the database of DATABASE_URL, in a test database of its own.
"""

import multiprocessing
import os
import smtplib
import socket
import statistics
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from multiprocessing.connection import Connection
from typing import Any

import django
from django.db import connection, connections
from django.test import override_settings

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service_center.settings")
django.setup()

from service_center.letters.actions import daily_round, send_waiting  # noqa: E402  # after Django is set up
from service_center.letters.models import Letter, OwnerLink  # noqa: E402
from service_center.letters.rules.words import LetterState  # noqa: E402
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, WatchModelFactory  # noqa: E402
from tests.faults.checker import id_of  # noqa: E402
from tests.letters.sink import MailSink, Received  # noqa: E402

NOW = datetime(2026, 11, 25, tzinfo=UTC)
LANGUAGES = ("en", "fr", "de", "it", "es", "ja")
SENDERS, SERVERS = 4, 2


@dataclass(frozen=True, slots=True)
class Measured:
    """Seconds, and seconds of processor, a letter."""

    seconds: float
    processor: float


class Process:
    """A process of its own, which answers one question after another."""

    def __init__(self, serve: Any, *arguments: Any) -> None:
        context = multiprocessing.get_context("spawn")
        self._pipe, there = context.Pipe()
        self._process = context.Process(target=serve, args=[there, *arguments], daemon=True)
        self._process.start()

    def ask(self, what: Any) -> None:
        self._pipe.send(what)

    def answer(self) -> Any:
        return self._pipe.recv()

    def stay_on(self, core: int) -> None:
        assert self._process.pid
        os.sched_setaffinity(self._process.pid, {core})

    def end(self) -> None:
        self.ask(None)
        self._process.join(10)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 600
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 5
    apart = "apart" in sys.argv[3:]
    with test_database(), ExitStack() as stack:
        due_pieces(count)
        started = time.perf_counter()
        written = daily_round(as_of=date(2026, 3, 18), now=NOW)
        the_round = time.perf_counter() - started
        assert written.letters == count, written.letters
        port, servers = listening_servers(stack)
        senders = [started_process(stack, send, connection.settings_dict["NAME"]) for _sender in range(SENDERS)]
        if apart:
            keep_apart(servers, senders)
        print(f"{connection.vendor}: {count:,} letters, medians of {rounds} rounds; load {os.getloadavg()[0]:.1f}")
        for together in (False, True):
            for server in servers:
                server.ask(("pipelining", together))
                server.answer()
            _one_setting(port, servers, senders, count, rounds, together=together)
    print(f"  daily_round writes {count / the_round:,.0f} letters/s")


def listening_servers(stack: ExitStack) -> tuple[int, list[Process]]:
    """The mail server: its port, and its processes."""
    listening = stack.enter_context(socket.create_server(("127.0.0.1", 0), backlog=64))
    return listening.getsockname()[1], [started_process(stack, serve, listening) for _server in range(SERVERS)]


def started_process(stack: ExitStack, serve: Any, *arguments: Any) -> Process:
    process = Process(serve, *arguments)
    stack.callback(process.end)
    assert process.answer() == "ready"
    return process


def keep_apart(servers: list[Process], senders: list[Process]) -> None:
    """The mail server's processes on one core, this one (the plain loop) and the senders on another."""
    one, other, *_more = sorted(os.sched_getaffinity(0))
    for server in servers:
        server.stay_on(one)
    for sender in senders:
        sender.stay_on(other)
    os.sched_setaffinity(0, {other})


def _one_setting(
    port: int, servers: list[Process], senders: list[Process], count: int, rounds: int, *, together: bool
) -> None:
    # A worker has its pages and templates loaded long since.
    all_sent(senders, port, servers, count)
    messages = messages_of(servers)
    plain, one, four = [], [], []
    for _round in range(rounds):
        plain.append(plainly(port, messages))
        messages_of(servers)
        one.append(all_sent(senders[:1], port, servers, count))
        four.append(all_sent(senders, port, servers, count))
    print(f"  the mail server answers {'commands together' if together else 'one command after another'}")
    for what, measured in (("plain smtplib loop", plain), ("one sender", one), (f"{SENDERS} senders", four)):
        seconds, processor = (
            statistics.median(getattr(each, field) for each in measured) for field in ("seconds", "processor")
        )
        print(f"    {what:20s}{1 / seconds:>8,.0f} letters/s  {processor * 1000:.2f} ms of processor a letter")
    print(
        f"    one sender: {_ratio(plain, one)} of the plain loop; "
        f"{SENDERS} senders: {_ratio(one, four)} times one sender"
    )


def _ratio(slower: list[Measured], faster: list[Measured]) -> str:
    """The median of what each round gives, and how far they lie apart."""
    found = sorted(before.seconds / after.seconds for before, after in zip(slower, faster, strict=True))
    return f"{statistics.median(found):.2f} ({found[0]:.2f} to {found[-1]:.2f})"


def due_pieces(count: int) -> None:
    boutique, model = BoutiqueFactory(), WatchModelFactory()
    for number in range(count):
        owner = OwnerFactory(language=LANGUAGES[number % len(LANGUAGES)])
        PieceFactory(owner=owner, boutique=boutique, model=model)


def plainly(port: int, messages: list[Received]) -> Measured:
    with smtplib.SMTP("127.0.0.1", port, local_hostname="bench.example") as server:
        began, started = time.process_time(), time.perf_counter()
        for mail in messages:
            server.sendmail(mail.sender, list(mail.recipients), mail.content)
        ended = time.perf_counter()
    return Measured((ended - started) / len(messages), (time.process_time() - began) / len(messages))


def all_sent(senders: list[Process], port: int, servers: list[Process], count: int) -> Measured:
    """All letters, sent once each by these senders."""
    OwnerLink.objects.all().delete()
    Letter.objects.update(state=LetterState.WAITING, attempt=0, dot_at=None, sent_at=None, reply="")
    messages_of(servers)
    for sender in senders:
        sender.ask(port)
    told = [sender.answer() for sender in senders]
    assert sum(sent for sent, *_times in told) == count, told
    assert Letter.objects.filter(state=LetterState.SENT).count() == count
    there = Counter(id_of(message) for message in messages_of(servers, keep=True))
    assert len(there) == there.total() == count
    seconds = max(ended for all_sent, _began, ended, _processor in told) - min(
        began for all_sent, began, *_more in told
    )
    return Measured(seconds / count, sum(processor for *_more, processor in told) / count)


def messages_of(servers: list[Process], *, keep: bool = False) -> list[Received]:
    """What the mail server has; it forgets it unless told to keep it."""
    found: list[Received] = []
    for server in servers:
        server.ask(("messages", keep))
        found += server.answer()
    return found


def serve(pipe: Connection, listening: socket.socket) -> None:
    with MailSink(listening=listening) as sink:
        pipe.send("ready")
        while question := pipe.recv():
            what, how = question
            if what == "pipelining":
                sink.pipelining = how
                pipe.send("done")
            else:
                pipe.send(sink.messages)
                if not how:
                    sink.clear()


def send(pipe: Connection, database: str) -> None:
    """A sender's life."""
    connections.databases["default"]["NAME"] = connection.settings_dict["NAME"] = database
    pipe.send("ready")
    while port := pipe.recv():
        with override_settings(MAIL_CONFIGURED=True, EMAIL_HOST="127.0.0.1", EMAIL_PORT=port):
            processor, began = time.process_time(), time.perf_counter()
            sent = send_waiting(now=NOW, until_empty=True).sent
            pipe.send((sent, began, time.perf_counter(), time.process_time() - processor))


@contextmanager
def test_database() -> Iterator[None]:
    name = connection.settings_dict["NAME"]
    connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
    try:
        yield
    finally:
        connection.creation.destroy_test_db(name, verbosity=0)


if __name__ == "__main__":
    main()
