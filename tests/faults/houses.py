"""Houses to break: each a database of its own, a mail server of its own, and as many processes as a test likes.

A house is made from a pattern, a database that was migrated once; a copy costs a fraction of a second.
"""

import contextlib
import dataclasses
import json
import os
import resource
import select
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any
from urllib.parse import urlsplit
from uuid import uuid4

import psycopg
from psycopg import sql

from service_center.settings import _sqlite_pragmas
from tests.letters.sink import MailSink

PLACE = Path(__file__).resolve().parents[2]
PATIENCE = {"EMAIL_TIMEOUT": 10, "MAIL_DOT_SECONDS": 10, "LETTER_LEASE_SECONDS": 60}
# So little patience that senders of a busy machine are given up while they work.
IN_A_HURRY = {"EMAIL_TIMEOUT": 10, "MAIL_DOT_SECONDS": 2, "LETTER_LEASE_SECONDS": 2}
SQLITE, POSTGRESQL = "sqlite", "postgresql"


class Child:
    """A process of a house."""

    def __init__(self, pid: int, told: Path) -> None:
        self.pid = pid
        self._told = told
        try:
            self._handle: int | None = os.pidfd_open(pid)
        except ProcessLookupError:  # it has ended already
            self._handle = None

    @property
    def alive(self) -> bool:
        return not self._ended(0)

    def _ended(self, seconds: float) -> bool:
        """Whether it has ended, after so many seconds at most."""
        if self._handle is not None:
            look = select.poll()
            look.register(self._handle, select.POLLIN)
            if not look.poll(seconds * 1000):
                return False
            os.close(self._handle)
            self._handle = None
        return True

    @property
    def stopped(self) -> bool:
        """Whether it sleeps by SIGSTOP. The field after the name in brackets is the state."""
        with contextlib.suppress(OSError):
            return Path(f"/proc/{self.pid}/stat").read_text().rpartition(")")[2].split()[0] == "T"
        return False

    def signal(self, number: signal.Signals) -> bool:
        """Send a signal; whether somebody was there to get it."""
        if self._handle is None:
            return False
        with contextlib.suppress(ProcessLookupError):
            signal.pidfd_send_signal(self._handle, number)
            return True
        return False

    def disk_is_full(self, room: int = 0) -> None:
        """No file of this process grows beyond `room` bytes from now on; each write beyond is refused by the kernel."""
        disk_is_full(self.pid, room)

    def disk_is_free(self) -> None:
        disk_is_free(self.pid)

    def kill(self) -> bool:
        """As kill -9."""
        return self.alive and self.signal(signal.SIGKILL)

    def wait(self, seconds: float) -> None:
        """Until it has ended; fails after so many seconds."""
        assert self._ended(seconds), f"process {self.pid} had not ended after {seconds} s"

    def told(self, seconds: float) -> Any:
        """What it told its caller, once it has ended."""
        self.wait(seconds)
        assert self.spoke, f"process {self.pid} ended without a word: {_tail(self._told.parent / 'log')}"
        return json.loads(self._told.read_text())

    @property
    def spoke(self) -> bool:
        """Whether it came to its end and told its caller something."""
        return self._told.exists()


class Yard:
    """The process that forks them (yard.py)."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        # Which database a child works on is told to each; nothing of the caller's own site reaches them.
        inherited = {key: value for key, value in os.environ.items() if not key.endswith("_URL")}
        self._log = (folder / "yard.log").open("wb")
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.yard"],
            cwd=PLACE, env=inherited | {"DATA_DIR": str(folder), "SECRET_KEY": "a secret of these tests" * 3},
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=self._log, text=True,
        )  # fmt: skip

    def order(self, order: dict[str, Any]) -> Child:
        stdin, stdout = self._pipes()
        stdin.write(json.dumps(order) + "\n")
        stdin.flush()
        return Child(int(stdout.readline()), Path(order["told"]))

    def close(self) -> None:
        for pipe in self._pipes():
            pipe.close()
        self._process.wait(10)
        self._log.close()

    def _pipes(self) -> tuple[IO[str], IO[str]]:
        assert self._process.stdin
        assert self._process.stdout
        return self._process.stdin, self._process.stdout


@dataclass
class House:
    """One house. `settings` and `dot_margin` are how patient its senders are, in seconds."""

    vendor: str
    url: str
    folder: Path
    yard: Yard
    sink: MailSink
    dot_margin: float = 1.0
    settings: dict[str, Any] = field(default_factory=dict)
    children: list[Child] = field(default_factory=list)

    def start(
        self, deed: str, *, faults: str = "", lock_timeout: float = 30, room: int | None = None, **how: Any
    ) -> Child:
        """Start one process. `room`: no file of it may grow beyond so many bytes."""
        told = self.folder / f"told-{uuid4().hex}.json"
        mail = {"MAIL_CONFIGURED": True, "EMAIL_HOST": self.sink.host, "EMAIL_PORT": self.sink.port}
        child = self.yard.order(
            {
                "deed": deed,
                "how": how,
                "faults": faults,
                "database": django_database(self.url, lock_timeout),
                "settings": {**PATIENCE, **mail, **self.settings},
                "folder": str(self.folder),
                "dot_margin": self.dot_margin,
                "log": str(self.folder / "log"),
                "told": str(told),
                "room": room,
            }
        )
        self.children.append(child)
        return child

    def do(self, deed: str, *, seconds: float = 60, **how: Any) -> Any:
        """Let a process do something to its end; what it told."""
        return self.start(deed, **how).told(seconds)

    def rows(self, statement: str) -> list[tuple[Any, ...]]:
        """The rows of a statement, by a connection of its own that knows nothing of Django."""
        with self.connected() as connection:
            return list(connection.execute(statement).fetchall())

    def write(self, statement: str) -> None:
        """Carry out a statement and commit it."""
        with self.connected() as connection:
            connection.execute(statement)
            connection.commit()

    @contextlib.contextmanager
    def connected(self) -> Iterator[Any]:
        if self.vendor == SQLITE:
            connection: Any = sqlite3.connect(urlsplit(self.url).path, timeout=30)
        else:
            connection = psycopg.connect(self.url.replace("postgres://", "postgresql://"))
        with contextlib.closing(connection):
            yield connection

    def written(self) -> int:
        """Let the round write the letters of the pieces that are due; how many."""
        letters: int = self.do("round", day="2019-03-18")["letters"]
        return letters

    def state_of(self, letter: int) -> str:
        """Where a letter stands."""
        [(state,)] = self.rows(f"SELECT state FROM letters_letter WHERE id = {letter}")
        return str(state)

    def leases_run_out(self) -> None:
        """Time passes: whoever has a letter in hand has had it for too long."""
        self.write("UPDATE letters_letter SET lease_until = '2019-01-01 00:00:00' WHERE lease_until IS NOT NULL")

    def pauses_are_over(self) -> None:
        """Time passes: what rests after a temporary refusal may be tried again."""
        self.write("UPDATE letters_letter SET not_before = '2019-03-18 09:00:00' WHERE state = 'waiting'")

    @property
    def log(self) -> str:
        """What its processes wrote to their stderr."""
        file = self.folder / "log"
        return file.read_text(errors="replace") if file.exists() else ""

    def end(self) -> None:
        """End every process that is left."""
        for child in self.children:
            child.signal(signal.SIGKILL)


class Patterns:
    """The migrated databases that houses are copied from, one a vendor, made when first asked for."""

    def __init__(self, folder: Path, server_url: str, yard: Yard | None = None) -> None:
        """`yard`: one that somebody else keeps."""
        self._folder, self._server = folder, server_url
        self._made: dict[str, str] = {}
        self._yard, self._others = yard, yard is not None

    @property
    def yard(self) -> Yard:
        if self._yard is None:
            self._yard = Yard(self._folder / "yard")
        return self._yard

    def close(self) -> None:
        if self._yard and not self._others:
            self._yard.close()
        if POSTGRESQL in self._made:
            self._drop(self._made[POSTGRESQL])

    @contextlib.contextmanager
    def house(self, vendor: str, *, owners: int = 0, pieces_each: int = 1, **about: Any) -> Iterator[House]:
        """A house with so many owners to write to, their letters not yet written."""
        name = f"faults_{uuid4().hex[:12]}"
        url, folder = self._copy(vendor, name, self._pattern(vendor)), self._folder / name
        folder.mkdir(exist_ok=True)
        with MailSink() as sink:
            sink.pipelining = True  # as most mail servers
            house = House(vendor, url, folder, self.yard, sink, **about)
            try:
                if owners:
                    house.do("fill", owners=owners, pieces_each=pieces_each)
                yield house
            finally:
                house.end()
                if vendor == POSTGRESQL:
                    self._drop(url)

    @contextlib.contextmanager
    def backup(self, house: House) -> Iterator[House]:
        """The house as it is now, while the other goes on: same folder, same mail server, a database of its own."""
        name = f"faults_{uuid4().hex[:12]}"
        copy = dataclasses.replace(house, url=self._copy(house.vendor, name, house.url), children=[])
        try:
            yield copy
        finally:
            copy.end()
            if house.vendor == POSTGRESQL:
                self._drop(copy.url)

    def _copy(self, vendor: str, name: str, of: str) -> str:
        if vendor == SQLITE:
            (self._folder / name).mkdir()
            copy = self._folder / name / "book.sqlite3"
            with (
                contextlib.closing(sqlite3.connect(urlsplit(of).path)) as source,
                contextlib.closing(sqlite3.connect(copy)) as target,
            ):
                source.backup(target)
            return f"sqlite://{copy}"
        self._on_server("CREATE DATABASE {} TEMPLATE {}", name, urlsplit(of).path[1:])
        return self._url(name)

    def _pattern(self, vendor: str) -> str:
        if vendor not in self._made:
            name = f"faults_pattern_{uuid4().hex[:8]}"
            folder = self._folder / name
            folder.mkdir()
            if vendor == POSTGRESQL:
                self._on_server("CREATE DATABASE {}", name)
                url = self._url(name)
            else:
                url = f"sqlite://{folder / 'book.sqlite3'}"
            with MailSink() as sink:
                House(vendor, url, folder, self.yard, sink).do("migrate", seconds=180)
            self._made[vendor] = url
        return self._made[vendor]

    def _url(self, name: str) -> str:
        return urlsplit(self._server)._replace(path=f"/{name}").geturl()

    def _drop(self, url: str) -> None:
        self._on_server("DROP DATABASE {} WITH (FORCE)", urlsplit(url).path[1:])

    def _on_server(self, statement: str, *names: str) -> None:
        with psycopg.connect(self._server.replace("postgres://", "postgresql://"), autocommit=True) as connection:
            connection.execute(sql.SQL(statement).format(*(sql.Identifier(name) for name in names)))  # type: ignore[arg-type]


def disk_is_full(process: int, room: int = 0) -> None:
    """Let no file of a process grow beyond `room` bytes. Sockets and pipes are not touched."""
    resource.prlimit(process, resource.RLIMIT_FSIZE, (room, resource.RLIM_INFINITY))


def disk_is_free(process: int) -> None:
    resource.prlimit(process, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))


def django_database(url: str, lock_timeout: float = 30) -> dict[str, Any]:
    """A house's database as settings.DATABASES has it, with the product's own options."""
    parts = urlsplit(url)
    if parts.scheme == "sqlite":
        options = {"transaction_mode": "IMMEDIATE", "timeout": lock_timeout, "init_command": _sqlite_pragmas()}
        return {"ENGINE": "django.db.backends.sqlite3", "NAME": parts.path, "OPTIONS": options}
    return {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": parts.path[1:],
        "HOST": parts.hostname,
        "PORT": parts.port,
        "USER": parts.username,
        "OPTIONS": {"options": "-c lock_timeout=5s -c idle_in_transaction_session_timeout=60s"},
    }


def _tail(log: Path) -> str:
    return log.read_text(errors="replace")[-2000:] if log.exists() else ""


def wait_until(true: Any, *, seconds: float, what: str) -> None:
    """Look again and again until something is so; fails after so many seconds."""
    until = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < until, f"{what}: not after {seconds} s"
        time.sleep(0.05)
