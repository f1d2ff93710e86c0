"""Temporary tables in which a file waits to be compared with the book.

They are private to the connection and gone after the import. Comparing and writing are then a few statements
over whole tables, in the database's own terms, however many rows there are.
"""

# ruff: noqa: S608  # names are those of the tables and columns in tables.py; values are parameters

import os
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection, transaction

from service_center.exchange.rules import Checked
from service_center.exchange.tables import Table, quote

LINE = "line_number"
ATTACHED = "scratch"
CACHE_KIB = 65_536
WAIT_SECONDS = 600


def scratch_name(table: Table) -> str:
    """The temporary table of a file, quoted."""
    return quote(f"import_{table.file.stem}")


@contextmanager
def working() -> Iterator[None]:
    """Room for temporary tables.

    PostgreSQL: one transaction around everything. SQLite: a file of their own, since some builds keep temporary
    tables in memory whatever they are told; it needs no lock on the book, so people go on writing while files
    are read. The lock is taken for comparing and writing alone.
    """
    if connection.vendor == "postgresql" or connection.in_atomic_block:
        with transaction.atomic():
            yield
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA main.cache_size")
        (cache,) = cursor.fetchone()
        cursor.execute(f"PRAGMA main.cache_size = -{CACHE_KIB}")
        try:
            _attach_a_file(cursor)
            try:
                yield
            finally:
                cursor.execute(f"DETACH DATABASE {ATTACHED}")
        finally:
            cursor.execute(f"PRAGMA main.cache_size = {int(cache)}")


def _attach_a_file(cursor: Any) -> None:
    """A database file beside the book that has no name any more: it is gone when it is let go, whatever ends us."""
    handle, path = tempfile.mkstemp(prefix="import-", dir=settings.DATA_DIR)
    os.close(handle)
    try:
        cursor.execute(f"ATTACH DATABASE %s AS {ATTACHED}", [path])
        # Nothing in it needs to survive: no journal, no waiting for the disk.
        for setting in (
            "journal_mode = OFF",
            "synchronous = OFF",
            "locking_mode = EXCLUSIVE",
            f"cache_size = -{CACHE_KIB}",
        ):
            cursor.execute(f"PRAGMA {ATTACHED}.{setting}")
        cursor.execute(f"CREATE TABLE {ATTACHED}.opened (now integer)")
    finally:
        Path(path).unlink()


@contextmanager
def reading(*, repeatable: bool = False) -> Iterator[None]:
    """A transaction that never holds up whoever writes. `repeatable`: it sees one state of the book throughout."""
    if connection.vendor == "postgresql" or connection.in_atomic_block:
        outermost = not connection.in_atomic_block
        with transaction.atomic():
            if repeatable and outermost:
                with connection.cursor() as cursor:
                    cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield
        return
    with connection.cursor() as cursor:
        cursor.execute("BEGIN DEFERRED")
        try:
            yield
        except BaseException:
            cursor.execute("ROLLBACK")
            raise
        cursor.execute("COMMIT")


@contextmanager
def writing() -> Iterator[None]:
    """The one transaction in which an import is written. A second import waits for the first to end."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with transaction.atomic():
                cursor.execute("SELECT set_config('lock_timeout', %s, true)", [f"{WAIT_SECONDS}s"])
                cursor.execute("SELECT pg_advisory_xact_lock(hashtext('import_book'))")
                yield
            return
        cursor.execute("PRAGMA busy_timeout")
        (patience,) = cursor.fetchone()
        cursor.execute(f"PRAGMA busy_timeout = {WAIT_SECONDS * 1000}")
        try:
            with transaction.atomic():
                yield
        finally:
            cursor.execute(f"PRAGMA busy_timeout = {int(patience)}")


def make(table: Table) -> None:
    """Make the empty temporary table of a file; a line has one record."""
    # SQLite then keeps the records in the order of their lines, and reading them in it sorts nothing.
    columns = [f"{quote(LINE)} integer {'PRIMARY KEY' if connection.vendor == 'sqlite' else 'NOT NULL'}"]
    columns += [f"{quote(column.name)} {table.stored_type(column.name)}" for column in table.file.columns]
    columns += [f"{quote(name)} {table.stored_type(name)}" for name in table.derived]
    name = f"{_schema()}{scratch_name(table)}"
    with connection.cursor() as cursor:
        temporary = "TEMPORARY" if connection.vendor == "postgresql" else ""
        cursor.execute(f"CREATE {temporary} TABLE {name} ({', '.join(columns)})")
        if connection.vendor == "sqlite":
            _index(table)  # before it is filled: sorting a long index afterwards takes memory


def _schema() -> str:
    """Where SQLite keeps the tables; within a transaction no file could be let go again, so among its temporary ones."""
    if connection.vendor == "postgresql":
        return ""
    return "temp." if connection.in_atomic_block else f"{ATTACHED}."


def _index(table: Table) -> None:
    name = _schema() + quote(f"import_{table.file.stem}_key")
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE INDEX {name} ON {scratch_name(table)} ({quote(table.file.key)})")


def fill(table: Table, checked: Checked) -> None:
    """Add a batch of checked records."""
    if not checked.lines:
        return
    rows = zip(checked.lines, *checked.columns, *_derived(table, checked), strict=True)
    width = 1 + len(checked.columns) + len(table.derived)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            driver: Any = cursor.cursor
            with driver.copy(f"COPY {scratch_name(table)} FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row)
            return
        # The driver's own cursor: Django's keeps a second copy of all rows while it looks at the first.
        driver = connection.connection.cursor()
        driver.executemany(f"INSERT INTO {scratch_name(table)} VALUES ({', '.join('?' * width)})", rows)


def _derived(table: Table, checked: Checked) -> list[Sequence[str]]:
    if table.derive is None:
        return []
    names = [column.name for column in table.file.columns]
    sources = [checked.columns[names.index(name)] for name in table.derived_from]
    made = [table.derive(*texts) for texts in zip(*sources, strict=True)]
    return [[fields[name] for fields in made] for name in table.derived]


def ready(table: Table) -> None:
    """After filling: index the table by its key, and let the planner know its size."""
    if connection.vendor == "postgresql":
        _index(table)
        with connection.cursor() as cursor:
            cursor.execute(f"ANALYZE {scratch_name(table)}")


def drop(table: Table) -> None:
    """Take the temporary table away."""
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TABLE IF EXISTS {scratch_name(table)}")
