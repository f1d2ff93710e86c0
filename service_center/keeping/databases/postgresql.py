"""A book on PostgreSQL: `pg_dump` writes it out from the very snapshot in which it is counted; `pg_restore` reads it.

Passwords go to these programs by the environment, never by the command line, where anybody could read them.
"""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Any
from uuid import uuid4

from django.db import DatabaseError, connection, transaction

from service_center.keeping.databases.faults import DatabaseFault, UnreadableDatabase
from service_center.keeping.describing import LEFT_BEHIND, described
from service_center.keeping.rules.manifest import Contents

DUMP = (
    "--format=custom",
    "--no-owner",
    "--no-privileges",
    *(f"--exclude-table-data=*.{table}" for table in sorted(LEFT_BEHIND)),
)
RESTORE = ("--no-owner", "--no-privileges", "--exit-on-error", "--single-transaction")
# Whoever holds a table of the site for longer than this is at work there.
PATIENCE = "-c lock_timeout=30s"
LAST_WORDS = 600  # characters
LONGEST_NAME = 40  # of the site's own database, in the name of a scratch one; PostgreSQL has room for 63


@contextmanager
def copied_out(_folder: Path) -> Iterator[tuple[Callable[[int], bytes], Callable[[], Contents]]]:
    """The book as it is now: what reads its dump, and what tells its contents, of one snapshot. Raises DatabaseFault."""
    program = _program("pg_dump")
    with transaction.atomic(), tempfile.TemporaryFile() as words:
        snapshot = _snapshot()
        process = subprocess.Popen(  # noqa: S603  # a program of PostgreSQL's, no shell
            [program, *DUMP, f"--snapshot={snapshot}"],
            env=_environment(), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=words,
        )  # fmt: skip
        with _ended(process):
            assert process.stdout
            read = process.stdout.read

            def part(size: int) -> bytes:
                found = read(size)
                if not found and process.wait():
                    raise DatabaseFault(f"pg_dump: {_said(words)}")
                return found

            yield part, described


@contextmanager
def scratch(_folder: Path, fill: Callable[[Callable[[bytes], object]], object]) -> Iterator[dict[str, Any]]:
    """A scratch database, for `standing_on`; it is dropped again. `fill` hands its dump over.

    Raises DatabaseFault where there can be none, UnreadableDatabase.
    """
    program, name = _program("pg_restore"), f"{_of_this_site()}{uuid4().hex[:12]}"
    _clear_away()
    try:
        with connection.cursor() as cursor:
            # Held until it is dropped, or this process has ended, however it ends.
            cursor.execute("SELECT pg_advisory_lock(hashtext(%s))", [name])
            cursor.execute(f"CREATE DATABASE {_quoted(name)} TEMPLATE template0 ENCODING 'UTF8'")
    except DatabaseError as error:
        raise DatabaseFault(
            f"a scratch database cannot be made ({str(error).strip()}): the database's user needs CREATEDB"
        ) from error
    try:
        _restore(program, fill, name=name)
        yield {"NAME": name}
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP DATABASE IF EXISTS {_quoted(name)} WITH (FORCE)")
            cursor.execute("SELECT pg_advisory_unlock(hashtext(%s))", [name])


def check() -> None:
    """PostgreSQL checks every reference and constraint as `pg_restore` makes them; nothing is left to look at."""


def put_in_place(scratch_database: dict[str, Any]) -> None:
    """Write a scratch database over the site's own, all of it or nothing. Raises DatabaseFault."""
    dump, restore = _program("pg_dump"), _program("pg_restore")
    with tempfile.TemporaryFile() as words:
        process = subprocess.Popen(  # noqa: S603  # a program of PostgreSQL's, no shell
            [dump, *DUMP, "--compress=0"],
            env=_environment(scratch_database["NAME"]), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=words,
        )  # fmt: skip
        with _ended(process):
            done = subprocess.run(  # noqa: S603  # a program of PostgreSQL's, no shell
                [restore, *RESTORE, "--clean", "--if-exists", f"--dbname={connection.settings_dict['NAME']}"],
                env=_environment() | {"PGOPTIONS": PATIENCE}, stdin=process.stdout, capture_output=True, check=False,
            )  # fmt: skip
            if process.wait():
                raise DatabaseFault(f"pg_dump: {_said(words)}")
            if done.returncode:
                raise DatabaseFault(f"the site's database could not be written. pg_restore: {_short(done.stderr)}")


def _clear_away() -> None:
    """Scratch databases of this site whose process was killed: nobody holds their names any more."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT datname FROM pg_database WHERE starts_with(datname, %s)", [_of_this_site()])
        for (name,) in cursor.fetchall():
            cursor.execute("SELECT pg_try_advisory_lock(hashtext(%s))", [name])
            if cursor.fetchone()[0]:
                cursor.execute(f"DROP DATABASE IF EXISTS {_quoted(name)} WITH (FORCE)")
                cursor.execute("SELECT pg_advisory_unlock(hashtext(%s))", [name])


def _of_this_site() -> str:
    """How the names of this site's scratch databases begin."""
    return f"{connection.settings_dict['NAME'][:LONGEST_NAME]}_scratch_"


def _quoted(name: str) -> str:
    return connection.ops.quote_name(name)


def _restore(program: str, fill: Callable[[Callable[[bytes], object]], object], *, name: str) -> None:
    with tempfile.TemporaryFile() as words:
        process = subprocess.Popen(  # noqa: S603  # a program of PostgreSQL's, no shell
            [program, *RESTORE, f"--dbname={name}"],
            env=_environment(name), stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=words,
        )  # fmt: skip
        with _ended(process):
            assert process.stdin
            with suppress(BrokenPipeError):  # it has said why
                fill(process.stdin.write)
                process.stdin.close()
            if process.wait():
                raise UnreadableDatabase(f"pg_restore: {_said(words)}")


@contextmanager
def _ended(process: "subprocess.Popen[bytes]") -> Iterator[None]:
    """It does not outlive the block, whatever ends that."""
    try:
        yield
    finally:
        if process.poll() is None:
            process.kill()
        for pipe in (process.stdin, process.stdout):
            if pipe and not pipe.closed:
                with suppress(BrokenPipeError):
                    pipe.close()
        process.wait()


def _snapshot() -> str:
    """One state of the book, for as long as this transaction lasts; however long it waits for the dump."""
    with connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        cursor.execute("SET LOCAL idle_in_transaction_session_timeout = 0")
        cursor.execute("SET LOCAL statement_timeout = 0")
        cursor.execute("SELECT pg_export_snapshot()")
        return str(cursor.fetchone()[0])


def _program(name: str) -> str:
    found = shutil.which(name)
    if found is None:
        raise DatabaseFault(f"{name} is missing: install PostgreSQL's client programs (Debian: postgresql-client)")
    return found


def _environment(database: str = "") -> dict[str, str]:
    here = connection.settings_dict
    told = {
        "PGHOST": here.get("HOST"),
        "PGPORT": here.get("PORT"),
        "PGUSER": here.get("USER"),
        "PGPASSWORD": here.get("PASSWORD"),
        "PGDATABASE": database or here["NAME"],
    }
    return {**os.environ, **{name: str(value) for name, value in told.items() if value}}


def _said(words: IO[bytes]) -> str:
    words.seek(0)
    return _short(words.read())


def _short(words: bytes) -> str:
    return " ".join(words.decode("utf-8", "replace").split())[-LAST_WORDS:] or "it said nothing"
