"""A whole house as it is run: processes over a database of its own, with a mail server that keeps what it gets."""

import contextlib
import json
import os
import secrets
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg
from psycopg import sql

from tests.letters.sink import MailSink
from tests.servers import free_port
from tests.serving.processes import PLACE, Site, wait_until_ready

PASSWORD = "quiet-harbour-lamp"


@dataclass(frozen=True, slots=True)
class House:
    """One running house: where it answers, what its commands need, and the mail that it sends."""

    url: str
    environment: dict[str, str]
    sink: MailSink

    def command(self, *arguments: str, typed: str = "") -> Any:
        """One of the site's commands, as a person runs it; what it printed, read as JSON where it asks for that."""
        done = subprocess.run(
            [sys.executable, "manage.py", *arguments],
            cwd=PLACE, env=self.environment, input=typed, capture_output=True, text=True, check=False, timeout=120,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout) if "--json" in arguments else done.stdout


@contextlib.contextmanager
def on_one_machine(folder: Path) -> Iterator[House]:
    """`serve`: SQLite, and web, worker and schedule in one process."""
    with MailSink() as sink:
        environment, port = _environment(folder, sink)
        with _running([sys.executable, "manage.py", "serve", "--port", str(port)], environment) as process:
            wait_until_ready(Site(process, port), seconds=300)  # its database is made first, on a busy machine too
            yield House(f"http://127.0.0.1:{port}", environment, sink)


@contextlib.contextmanager
def on_servers(folder: Path) -> Iterator[House]:
    """As docker-compose.yml has it: PostgreSQL, Redis, and web, worker and schedule as processes of their own."""
    with MailSink() as sink, _database() as database_url, contextlib.ExitStack() as processes:
        environment, port = _environment(folder, sink)
        environment |= {
            "DATABASE_URL": database_url,
            "BROKER_URL": os.environ["TEST_REDIS_URL"].removesuffix("/0") + "/7",
            "CACHE_URL": os.environ["TEST_REDIS_URL"].removesuffix("/0") + "/8",
        }
        house = House(f"http://127.0.0.1:{port}", environment, sink)
        house.command("migrate", "--no-input")
        house.command("collectstatic", "--no-input")
        web = [
            "gunicorn", "service_center.wsgi", "--bind", f"127.0.0.1:{port}", "--worker-class", "gthread",
            "--workers", "2", "--threads", "8", "--no-control-socket", "--log-level", "warning",
        ]  # fmt: skip
        celery = ["celery", "--app", "service_center.celery"]
        alone = ["--without-gossip", "--without-mingle", "--without-heartbeat"]
        first = processes.enter_context(_running([sys.executable, "-m", *web], environment))
        for command in (
            [*celery, "worker", "--loglevel", "warning", "--concurrency", "2", *alone],
            [*celery, "beat", "--loglevel", "warning", "--scheduler", "celery.beat.Scheduler"],
        ):
            processes.enter_context(_running([sys.executable, "-m", *command], environment))
        wait_until_ready(Site(first, port))
        yield house


def _environment(folder: Path, sink: MailSink) -> tuple[dict[str, str], int]:
    port = free_port()
    inherited = {key: value for key, value in os.environ.items() if not key.endswith("_URL")}
    return inherited | {
        "DATA_DIR": str(folder),
        "SITE_URL": f"http://127.0.0.1:{port}",
        "EMAIL_URL": f"smtp://127.0.0.1:{sink.port}",
    }, port


@contextlib.contextmanager
def _running(command: list[str], environment: dict[str, str]) -> Iterator["subprocess.Popen[str]"]:
    """A process and its children, ended with the block: kindly first, then for certain."""
    process = subprocess.Popen(
        command, cwd=PLACE, env=environment, text=True, start_new_session=True,
        stdout=subprocess.DEVNULL, stderr=None,
    )  # fmt: skip
    try:
        yield process
    finally:
        process.send_signal(signal.SIGTERM)
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(30)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()


@contextlib.contextmanager
def _database() -> Iterator[str]:
    """An empty database beside the one of the tests, dropped afterwards."""
    server = os.environ["DATABASE_URL"].rpartition("/")[0]
    name = f"house_{secrets.token_hex(4)}"
    with psycopg.connect(f"{server}/postgres", autocommit=True) as connection:
        connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        try:
            yield f"{server}/{name}"
        finally:
            connection.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))
