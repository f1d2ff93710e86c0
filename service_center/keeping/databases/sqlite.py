"""A book on SQLite: `VACUUM INTO` writes it out as one state, without what was deleted, while others go on writing."""

import contextlib
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.db import connection

from service_center.keeping.databases.faults import DatabaseFault, UnreadableDatabase
from service_center.keeping.describing import LEFT_BEHIND, described
from service_center.keeping.rules.manifest import Contents
from service_center.keeping.standing import standing_on

WAIT_SECONDS = 60
# A scratch copy need not survive anything: no log, no waiting for the disk.
NO_CARE = "PRAGMA journal_mode=DELETE;PRAGMA synchronous=OFF;PRAGMA foreign_keys=ON"
TOLD = 5  # faults at most


@contextmanager
def copied_out(folder: Path) -> Iterator[tuple[Callable[[int], bytes], Callable[[], Contents]]]:
    """The book as it is now: what reads its bytes, and what tells its contents. `folder`: room for a copy.

    Raises DatabaseFault.
    """
    copy = folder / "copy.sqlite3"
    try:
        with contextlib.closing(sqlite3.connect(connection.settings_dict["NAME"], timeout=WAIT_SECONDS)) as source:
            source.execute("VACUUM INTO ?", [str(copy)])
        _leave_sessions_behind(copy)
    except sqlite3.Error as error:
        raise DatabaseFault(f"SQLite could not write a copy of the book: {error}") from error
    with copy.open("rb") as file:
        yield file.read, lambda: _described(copy)


@contextmanager
def scratch(folder: Path, fill: Callable[[Callable[[bytes], object]], object]) -> Iterator[dict[str, Any]]:
    """A scratch database, for `standing_on`. `fill` hands its bytes over. Raises UnreadableDatabase."""
    place = folder / "scratch.sqlite3"
    with place.open("wb") as file:
        fill(file.write)
    try:
        with contextlib.closing(sqlite3.connect(place)) as database:
            database.execute("PRAGMA journal_mode=DELETE")
            _check(database)
    except sqlite3.Error as error:
        raise UnreadableDatabase(f"the database cannot be read ({error})") from error
    yield _at(place)


def check() -> None:
    """Whether the database that stands here is sound, after migrating. Raises UnreadableDatabase."""
    connection.ensure_connection()
    _check(connection.connection)


def put_in_place(scratch_database: dict[str, Any]) -> None:
    """Write a scratch database over the site's own, all of it or nothing. Raises DatabaseFault."""
    here = connection.settings_dict
    try:
        with (
            contextlib.closing(sqlite3.connect(scratch_database["NAME"])) as source,
            contextlib.closing(sqlite3.connect(here["NAME"], timeout=WAIT_SECONDS)) as site,
        ):
            site.executescript(here["OPTIONS"]["init_command"])
            source.backup(site)
    except sqlite3.Error as error:
        raise DatabaseFault(f"the site's database could not be written: {error}") from error


def _check(database: Any) -> None:
    """A damaged page or index, or a row that refers to none."""
    found = [said for (said,) in database.execute(f"PRAGMA integrity_check({TOLD})") if said != "ok"]
    if found:
        raise UnreadableDatabase(f"integrity_check: {'; '.join(found)}")
    astray = database.execute("PRAGMA foreign_key_check").fetchmany(TOLD)
    if astray:
        raise UnreadableDatabase("foreign_key_check: " + "; ".join(f"{row[0]} row {row[1]}" for row in astray))


def _described(copy: Path) -> Contents:
    with standing_on(_at(copy)):
        return described()


def _leave_sessions_behind(copy: Path) -> None:
    with contextlib.closing(sqlite3.connect(copy, isolation_level=None)) as database:
        database.execute("PRAGMA journal_mode=DELETE")
        database.execute("PRAGMA secure_delete=ON")
        for table in sorted(LEFT_BEHIND):
            if database.execute("SELECT 1 FROM sqlite_master WHERE name = ?", [table]).fetchone():
                database.execute(f"DELETE FROM {table}")  # noqa: S608  # our own


def _at(place: Path) -> dict[str, Any]:
    return {"NAME": str(place), "OPTIONS": {**connection.settings_dict["OPTIONS"], "init_command": NO_CARE}}
