"""What a house on servers is made of, to be broken: a broker, a database server, workers and a clock. All real."""

import contextlib
import os
import shutil
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

from tests import servers
from tests.faults.houses import PLACE, SQLITE, House, wait_until
from tests.servers import free_port

CELERY = ("-m", "celery", "-A", "tests.faults.hasty")
QUIETLY = ("--without-gossip", "--without-mingle", "--without-heartbeat", "-l", "warning")


class Redis:
    """A broker that keeps nothing, on one port through all its lives."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True)
        self.port = free_port()
        self._folder = folder
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"redis://127.0.0.1:{self.port}"

    def start(self) -> None:
        program = shutil.which("redis-server")
        assert program, "redis-server is missing: install Debian's package redis-server"
        options = ["--port", str(self.port), "--bind", "127.0.0.1", "--save", "", "--appendonly", "no"]
        self._process = subprocess.Popen(
            [program, *options, "--dir", str(self._folder)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        wait_until(lambda: _answers(self.port, b"PING\r\n", b"+PONG"), seconds=20, what="Redis answers")

    def forget(self) -> None:
        """FLUSHALL."""
        assert _answers(self.port, b"FLUSHALL\r\n", b"+OK")

    def freeze(self) -> None:
        self._signal(signal.SIGSTOP)

    def thaw(self) -> None:
        self._signal(signal.SIGCONT)

    def kill(self) -> None:
        self._signal(signal.SIGKILL)
        assert self._process
        self._process.wait(10)
        self._process = None

    def _signal(self, number: signal.Signals) -> None:
        assert self._process
        self._process.send_signal(number)

    def close(self) -> None:
        if self._process:
            self.kill()


def _answers(port: int, question: bytes, answer: bytes) -> bool:
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 2) as line:
        line.sendall(question)
        return line.recv(100).startswith(answer)
    return False


class Postgres:
    """A database server of its own, which keeps what it said it kept."""

    def __init__(self, folder: Path) -> None:
        self._programs, self._folder = servers._postgresql_programs(), folder
        folder.mkdir()
        self._user = "postgres" if os.geteuid() == 0 else None
        if self._user:
            folder.parent.chmod(0o711)
            shutil.chown(folder, self._user)
        self.port = free_port()
        initdb = [self._programs / "initdb", "-D", folder / "data", "-A", "trust", "-U", "tests", "-E", "UTF8", "-N"]
        servers._checked(initdb, folder, self._user)
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"postgres://tests@127.0.0.1:{self.port}/postgres"

    def start(self) -> None:
        settings = {"listen_addresses": "127.0.0.1", "port": self.port, "unix_socket_directories": ""}
        options = [part for name, value in settings.items() for part in ("-c", f"{name}={value}")]
        with (self._folder / "log").open("ab") as log:
            self._process = subprocess.Popen(
                [self._programs / "postgres", "-D", self._folder / "data", *options],
                stdout=log, stderr=log, cwd=self._folder, **servers._as_user(self._user),
            )  # fmt: skip
        ready = [self._programs / "pg_isready", "-q", "-h", "127.0.0.1", "-p", str(self.port)]
        wait_until(lambda: subprocess.run(ready, check=False).returncode == 0, seconds=30, what="PostgreSQL")

    def stop(self) -> None:
        """As its own fast shutdown: sessions are cut off."""
        assert self._process
        self._process.send_signal(signal.SIGINT)
        self._process.wait(30)
        self._process = None

    def close(self) -> None:
        if self._process:
            self.stop()


def environment(house: House, **more: str) -> dict[str, str]:
    """What the processes of a house are told about it."""
    inherited = {key: value for key, value in os.environ.items() if not key.endswith("_URL")}
    url = f"sqlite:///{urlsplit(house.url).path}" if house.vendor == SQLITE else house.url
    return inherited | {
        "DATABASE_URL": url,
        "DATA_DIR": str(house.folder),
        "SECRET_KEY": "a secret of these tests" * 3,
        "MAIL_COMMAND_SECONDS": "5",
        "MAIL_DOT_SECONDS": "5",
        "LETTER_LEASE_SECONDS": "5",
        **more,
    }


class Worker:
    """A worker, or the clock, as somebody's supervisor starts it; in a group of its own."""

    def __init__(self, house: House, broker: str, *arguments: str) -> None:
        with (house.folder / "log").open("ab") as log:
            self._process = subprocess.Popen(
                [sys.executable, *CELERY, *arguments],
                cwd=PLACE, env=environment(house, BROKER_URL=broker, EMAIL_URL=house.sink.url),
                stdout=log, stderr=log, start_new_session=True,
            )  # fmt: skip

    @property
    def alive(self) -> bool:
        return self._process.poll() is None

    def kill(self) -> None:
        """As kill -9, with the children that work for it."""
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait(10)


class Works:
    """Two workers and a clock over a house."""

    def __init__(self, house: House, broker: str) -> None:
        self.house, self._broker = house, broker
        self.workers = [self._worker(), self._worker()]
        self._clock = Worker(house, broker, "beat", "-l", "warning", "--schedule", str(house.folder / "beat"))

    def _worker(self) -> Worker:
        return Worker(self.house, self._broker, "worker", "--concurrency", "1", *QUIETLY)

    def replace(self, at: int) -> None:
        """Kill a worker and start another."""
        self.workers[at].kill()
        self.workers[at] = self._worker()

    def out(self, count: int, *, seconds: float, after: str) -> None:
        """Wait until so many letters are out, or in doubt; fails after so many seconds, or when a process has ended."""
        about = "SELECT count(*) FROM letters_letter WHERE state IN ('sent', 'in_doubt')"

        def are_out() -> bool:
            assert all(one.alive for one in (*self.workers, self._clock)), self.house.log[-2000:]
            return self.house.rows(about) == [(count,)]

        wait_until(are_out, seconds=seconds, what=f"{count} letters out after {after}")

    def kill(self) -> None:
        for one in (*self.workers, self._clock):
            one.kill()


@contextlib.contextmanager
def at_work(house: House, broker: str) -> Iterator[Works]:
    """Workers and a clock, until the block ends."""
    works = Works(house, broker)
    try:
        yield works
    finally:
        works.kill()
