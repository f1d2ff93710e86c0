"""Writing the book out as files: the same book whenever they are read into an empty site.

The order of the records is that of their keys, so that equal books give equal files, byte for byte.
"""

import csv
import hashlib
import io
import os
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from django.db import connection
from django.db.models import F, ForeignKey, QuerySet
from django.db.models.functions import Collate

from service_center.book.models import HistoryEntry
from service_center.exchange.comparing import written
from service_center.exchange.rules import NAMES
from service_center.exchange.tables import TABLES, Table, table_of

ROWS_AT_A_TIME = 5_000


class FolderInUseError(ValueError):
    """The folder holds files of a book already."""


def write_files(folder: Path, *, overwrite: bool) -> dict[str, int]:
    """Write the book's files into a folder, made if need be. Returns the number of records by the files' stems.

    Each file is written beside its name and put in place when it is whole and on the disk. Raises FolderInUseError
    where files of a book are there already and may not be overwritten.
    """
    folder.mkdir(parents=True, exist_ok=True)
    there = [name for name in NAMES if (folder / name).exists()]
    if there and not overwrite:
        raise FolderInUseError(f"{folder} already holds {', '.join(there)}")
    counts = {}
    finished: dict[Path, Path] = {}
    try:
        for table in _files():
            with tempfile.NamedTemporaryFile(
                "w", encoding="utf-8", newline="", dir=folder, prefix=f".{table.file.stem}-", delete=False
            ) as out:
                finished[Path(out.name)] = folder / table.file.name
                counts[table.file.stem] = write_table(table, out.file)
                out.flush()
                os.fsync(out.fileno())
    except BaseException:
        for beside in finished:
            beside.unlink(missing_ok=True)
        raise
    for name in there:
        (folder / name).unlink()
    for beside, place in finished.items():
        beside.chmod(0o640)
        beside.replace(place)
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
    return counts


def write_archive(archive: IO[bytes]) -> dict[str, int]:
    """Write the same files into a zip archive. Returns the number of records by the files' stems."""
    counts = {}
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as whole:
        for table in _files():
            with (
                whole.open(table.file.name, "w", force_zip64=True) as raw,
                io.TextIOWrapper(raw, encoding="utf-8", newline="") as out,
            ):
                counts[table.file.stem] = write_table(table, out)
    return counts


@dataclass(frozen=True, slots=True)
class Digest:
    """The book's files: records by stem, SHA-256 over all of them in their order, and over their header rows alone."""

    records: dict[str, int]
    sha256: str
    columns_sha256: str


def digest() -> Digest:
    """The same files, hashed and not kept: equal books have equal hashes, on either database."""
    records, whole, columns = {}, hashlib.sha256(), hashlib.sha256()
    for table in _files():
        name = f"{table.file.name}\n"
        whole.update(name.encode())
        columns.update(f"{name}{','.join(column.name for column in table.file.columns)}\n".encode())
        with io.TextIOWrapper(io.BufferedWriter(_Hashing(whole)), encoding="utf-8", newline="") as out:
            records[table.file.stem] = write_table(table, out)
    return Digest(records, whole.hexdigest(), columns.hexdigest())


class _Hashing(io.RawIOBase):
    """What is written here is hashed."""

    def __init__(self, into: "hashlib._Hash") -> None:
        super().__init__()
        self._into = into

    def writable(self) -> bool:
        return True

    def write(self, part: Any) -> int:
        self._into.update(part)
        return len(part)


def _files() -> list[Table]:
    """The tables that have a file; a book without rules.csv uses the house defaults."""
    return [table for stem, table in TABLES.items() if stem != "rules" or _as_it_counts(table).exists()]


def write_table(table: Table, out: IO[str]) -> int:
    """Write one file's header and records. Returns the number of records."""
    columns = table.file.columns
    writer = csv.writer(out)
    writer.writerow([column.name for column in columns])
    count = 0
    for row in _rows(table):
        writer.writerow([written(column, value) for column, value in zip(columns, row, strict=True)])
        count += 1
    return count


def _rows(table: Table) -> Iterator[tuple[Any, ...]]:
    """The table's records in the order of their keys: that of the characters' numbers, on either database."""
    paths = []
    for column in table.file.columns:
        found = table.field(column.name)
        path = found.name
        if isinstance(found, ForeignKey):
            related = table_of(found)
            path = f"{found.name}__{related.field(related.file.key).name}"
        paths.append(path)
    collation = "C" if connection.vendor == "postgresql" else "BINARY"
    records = _as_it_counts(table).order_by(Collate(F(paths[0]), collation))
    return records.values_list(*paths).iterator(chunk_size=ROWS_AT_A_TIME)


def _as_it_counts(table: Table) -> QuerySet[Any]:
    """The records that a file holds.

    history.csv has no column for what an entry corrects: an entry that was voided stays behind, and the one that
    voids it goes out, so that the files give the same due dates.
    """
    if table.model is HistoryEntry:
        return HistoryEntry.objects.filter(corrections=None)
    return table.model._default_manager.all()  # noqa: SLF001  # documented by Django
