"""A real Celery worker and its clock, as processes of their own, over a real Redis: the bell, and the tick without it."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.db import connection

from service_center.book.models import Piece
from service_center.letters.models import Letter, Round, Sender
from tests.letters.conftest import only_letter, round_on
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
pytestmark = [pytest.mark.servers, pytest.mark.django_db(transaction=True)]
# Two processes start, and the clock's first tick is half a minute away: 45 s on a machine that has nothing else to do.
SLOWLY = 150
RING = "from service_center.letters.doorbell import ring; ring()"


@pytest.fixture
def environment(tmp_path: Path, sink: MailSink) -> dict[str, str]:
    """What the processes are told: the test's own database, a database of Redis of their own, the sink."""
    assert connection.vendor in {"postgresql", "sqlite"}
    redis_url = os.environ["TEST_REDIS_URL"].rpartition("/")[0] + "/9"
    name = connection.settings_dict["NAME"]
    if connection.vendor == "sqlite":
        database = f"sqlite:///{name}"
    else:
        of = connection.settings_dict
        database = f"postgres://{of['USER']}:{of['PASSWORD']}@{of['HOST']}:{of['PORT']}/{name}"
    return {
        **os.environ,
        "DATABASE_URL": database,
        "BROKER_URL": redis_url,
        "EMAIL_URL": sink.url,
        "SECRET_KEY": django_settings.SECRET_KEY,
        "DATA_DIR": str(tmp_path),
    }


@contextmanager
def celery(environment: dict[str, str], *arguments: str) -> Iterator[None]:
    """A process of Celery; ended by SIGTERM, as a supervisor does, and well within its patience."""
    command = [sys.executable, "-m", "celery", "-A", "service_center", *arguments]
    process = subprocess.Popen(command, env=environment, start_new_session=True)  # our own
    try:
        yield
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            assert process.wait(30) == 0
        finally:
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGKILL)


def worker(environment: dict[str, str]) -> Any:
    options = ("--without-gossip", "--without-mingle", "--without-heartbeat", "--concurrency", "2", "-l", "warning")
    return celery(environment, "worker", *options)


def in_a_process(environment: dict[str, str], code: str) -> None:
    subprocess.run([sys.executable, "-c", code], env=environment, check=True, timeout=30)  # our own


def until(done: Callable[[], bool], *, seconds: float) -> None:
    end = time.monotonic() + seconds
    while not done():
        assert time.monotonic() < end, f"not within {seconds} s"
        time.sleep(0.1)


def test_the_bell_makes_a_worker_hand_over_what_waits(
    due_piece: Make, sink: MailSink, environment: dict[str, str]
) -> None:
    for _piece in range(3):
        due_piece()
    round_on("2026-03-18")
    with worker(environment):
        in_a_process(environment, RING)
        sink.wait_for(3, seconds=SLOWLY)
        until(lambda: Letter.objects.filter(state="sent").count() == 3, seconds=5)
    assert len({mail.message_id for mail in sink.messages}) == 3


def test_without_any_bell_the_clock_delivers_and_runs_the_days_round(
    due_piece: Make, sink: MailSink, environment: dict[str, str]
) -> None:
    due_piece()
    round_on("2026-03-18")
    with ExitStack() as processes:
        processes.enter_context(worker(environment))
        processes.enter_context(celery(environment, "beat", "-l", "warning"))
        sink.wait_for(1, seconds=SLOWLY)
        until(lambda: only_letter().state == "sent", seconds=5)
        until(lambda: Round.objects.filter(finished_at__isnull=False).count() == 2, seconds=5)
        until(Sender.objects.exists, seconds=5)
