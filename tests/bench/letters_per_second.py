"""Letters a second, handed over by the house's sender, beside a plain smtplib loop into the same mail server.

    python -m tests.bench.letters_per_second [letters]

The plain loop sends messages that are already written, over one connection, and remembers nothing. Ours claims,
checks, writes each letter in its owner's language, commits at the dot and notes the reply. The server is a process of
its own. Runs on the database of DATABASE_URL, in a test database of its own.
"""

import multiprocessing
import os
import smtplib
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from multiprocessing.connection import Connection

import django
from django.db import connection
from django.test import override_settings

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service_center.settings")
django.setup()

from service_center.letters.actions import daily_round, send_waiting  # noqa: E402  # after Django is set up
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, WatchModelFactory  # noqa: E402
from tests.letters.sink import MailSink, Received  # noqa: E402

NOW = datetime(2026, 11, 25, tzinfo=UTC)
LANGUAGES = ("en", "fr", "de", "it", "es", "ja")


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000
    with _test_database(), _server() as (port, ask):
        _due_pieces(count)
        started = time.perf_counter()
        written = daily_round(as_of=date(2026, 3, 18), now=NOW)
        the_round = time.perf_counter() - started
        assert written.letters == count, written.letters
        with override_settings(MAIL_CONFIGURED=True, EMAIL_HOST="127.0.0.1", EMAIL_PORT=port):
            # A worker has its pages and templates loaded long since.
            first = send_waiting(now=NOW).sent
            began, started = time.process_time(), time.perf_counter()
            rest = send_waiting(now=NOW, until_empty=True).sent
            ours = (time.perf_counter() - started) / rest
            ours_cpu = (time.process_time() - began) / rest
        assert first + rest == count, (first, rest)
        messages = ask("messages")
        assert len({mail.message_id for mail in messages}) == count
        plain, plain_cpu = min(_plainly(port, messages) for _time in range(3))
    print(
        f"{connection.vendor}: {count:,} letters, {sum(len(one.content) for one in messages) / count / 1000:.1f} kB each"
    )
    print(f"  plain smtplib loop  {1 / plain:>8,.0f} letters/s  {plain_cpu * 1000:.2f} ms of processor a letter")
    print(
        f"  send_letters        {1 / ours:>8,.0f} letters/s  {ours_cpu * 1000:.2f} ms of processor a letter; "
        f"{plain / ours:.2f} of the plain loop"
    )
    print(f"  daily_round         {count / the_round:>8,.0f} letters/s written")


def _due_pieces(count: int) -> None:
    boutique, model = BoutiqueFactory(), WatchModelFactory()
    for number in range(count):
        owner = OwnerFactory(language=LANGUAGES[number % len(LANGUAGES)])
        PieceFactory(owner=owner, boutique=boutique, model=model)


def _plainly(port: int, messages: list[Received]) -> tuple[float, float]:
    """Seconds, and seconds of processor, a letter."""
    with smtplib.SMTP("127.0.0.1", port, local_hostname="bench.example") as server:
        began, started = time.process_time(), time.perf_counter()
        for mail in messages:
            server.sendmail(mail.sender, list(mail.recipients), mail.content)
        ended = time.perf_counter()
    return (ended - started) / len(messages), (time.process_time() - began) / len(messages)


@contextmanager
def _server() -> Iterator[tuple[int, "Ask"]]:
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe()
    process = context.Process(target=_serve, args=[there], daemon=True)
    process.start()
    try:
        yield here.recv(), Ask(here)
    finally:
        here.send("end")
        process.join(10)


class Ask:
    """Asks the server's process for its messages."""

    def __init__(self, pipe: Connection) -> None:
        self._pipe = pipe

    def __call__(self, what: str) -> list[Received]:
        self._pipe.send(what)
        return list(self._pipe.recv())


def _serve(pipe: Connection) -> None:
    with MailSink() as sink:
        pipe.send(sink.port)
        while pipe.recv() != "end":
            pipe.send(sink.messages)


@contextmanager
def _test_database() -> Iterator[None]:
    name = connection.settings_dict["NAME"]
    connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
    try:
        yield
    finally:
        connection.creation.destroy_test_db(name, verbosity=0)


if __name__ == "__main__":
    main()
