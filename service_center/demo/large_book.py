"""Putting a large book into the database: columns straight into the tables, past the models."""

from collections.abc import Callable, Iterator
from datetime import date, datetime, time
from itertools import islice
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from service_center.book.actions import owner_keys, piece_keys
from service_center.book.models import Boutique, Calibre, Custody, HistoryEntry, Owner, Piece, WatchModel
from service_center.demo.rules import large_book
from service_center.demo.rules.large_book import Block, Columns
from service_center.letters.actions import note_existing_customers

BATCH = 10_000


class BookNotEmpty(Exception):  # noqa: N818  # a refusal, named for what was found
    """There is a book already; a made one is never mixed into it."""


def make(pieces: int, *, until: date, seed: int, progress: Callable[[int], object]) -> None:
    """Write a made book of so many pieces, each with an owner and four history entries, and no due dates yet.

    `progress` is told how many pieces each block had. Raises BookNotEmpty where there are pieces. A transaction a block.
    """
    if Piece.objects.exists():
        raise BookNotEmpty("There is a book here already; make a large one in an empty database.")
    moment = timezone.make_aware(datetime.combine(until, time(12)))
    with transaction.atomic():
        _load(Calibre, large_book.calibres())
        _load(WatchModel, large_book.models())
        _load(Boutique, large_book.boutiques())
    for block in large_book.blocks(pieces, until, seed):
        with transaction.atomic():
            _load_block(block, moment)
        progress(len(block.pieces["id"]))
    note_existing_customers(on=until)
    _carry_keys_on()


def _load_block(block: Block, moment: datetime) -> None:
    owners, pieces = block.owners, block.pieces
    owners["name"] = [f"Owner {key}" for key in owners["id"]]
    owners["email"] = [f"{code.lower()}@owners.example" for code in owners["code"]]
    _add_keys(owners, [owner_keys(name=name, phone="") for name in owners["name"]])
    _add_keys(pieces, [piece_keys(serial) for serial in pieces["serial"]])
    size = len(block.history["id"])
    block.history["recorded_at"] = [moment] * size
    block.custody["since"] = [moment] * len(block.custody["piece_id"])
    _load(Owner, owners)
    _load(Piece, pieces)
    _load(HistoryEntry, block.history)
    _load(Custody, block.custody)


def _add_keys(columns: Columns, keys: list[dict[str, str]]) -> None:
    for name in keys[0]:
        columns[name] = [key[name] for key in keys]


def _load(model: Any, columns: Columns) -> None:
    """Fill a table from columns; text columns that are not named are empty, others not known."""
    given = set(columns)
    size = len(next(iter(columns.values())))
    for field in model._meta.concrete_fields:  # noqa: SLF001  # Django's documented model API
        if field.column not in given and not field.null and not field.primary_key:
            columns[field.column] = [""] * size
    rows = zip(*columns.values(), strict=True)
    if connection.vendor == "postgresql":
        _copy(model._meta.db_table, list(columns), rows)  # noqa: SLF001
    else:
        marks = ", ".join(["%s"] * len(columns))
        statement = f"INSERT INTO {model._meta.db_table} ({', '.join(columns)}) VALUES ({marks})"  # noqa: S608, SLF001
        with connection.cursor() as cursor:
            while batch := list(islice(rows, BATCH)):
                cursor.executemany(statement, batch)


def _copy(table: str, names: list[str], rows: Iterator[tuple[Any, ...]]) -> None:
    with (
        connection.cursor() as cursor,
        cursor.copy(f"COPY {table} ({', '.join(names)}) FROM STDIN") as copy,
    ):
        while batch := list(islice(rows, BATCH)):
            lines = ("\t".join("\\N" if cell is None else str(cell) for cell in row) for row in batch)
            copy.write("\n".join(lines) + "\n")


def _carry_keys_on() -> None:
    """Let the next row of each table get the next key; SQLite does so by itself."""
    if connection.vendor != "postgresql":
        return
    with connection.cursor() as cursor:
        for model in (Calibre, WatchModel, Boutique, Owner, Piece, HistoryEntry):
            table = model._meta.db_table  # noqa: SLF001
            cursor.execute(f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), max(id)) FROM {table}")  # noqa: S608
        cursor.execute("ANALYZE")
