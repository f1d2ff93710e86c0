"""Writing the waiting files into the book, each by one or two statements."""

# ruff: noqa: S608  # names are those of the tables and columns in tables.py; values are parameters

from datetime import datetime
from typing import Any

from django.db import connection
from django.db.models import ForeignKey

from service_center.exchange.comparing import Counts
from service_center.exchange.scratch import LINE, scratch_name
from service_center.exchange.tables import Table, quote, table_of


def write(table: Table, counts: Counts, *, at: datetime, by_id: int | None) -> None:
    """Add what is new and change what differs. Rows that say what the file says are not touched."""
    if counts.changed and not table.insert_only:
        _change(table)
    if counts.added:
        _add(table, at=at, by_id=by_id, all_new=not counts.changed + counts.same)


def highest_id(table: Table) -> int:
    """The newest row's number before writing; whatever is written gets a higher one."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT coalesce(max(id), 0) FROM {table.name}")
        return int(cursor.fetchone()[0])


def pieces_added_after(table: Table, pk: int) -> list[int]:
    """The pieces that rows written after `pk` are, or are about."""
    column = "id" if table.file.stem == "pieces" else "piece_id"
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT DISTINCT t.{column} FROM {scratch_name(table)} s JOIN {table.name} t "
            f"ON t.{table.key} = s.{quote(table.file.key)} WHERE t.id > %s",
            [pk],
        )
        return [found for (found,) in cursor.fetchall()]


def _add(table: Table, *, at: datetime, by_id: int | None, all_new: bool) -> None:
    fields = {table.stored_as(column.name): _value(table, column.name) for column in table.file.columns}
    fields |= {quote(name): f"s.{quote(name)}" for name in table.derived}
    constants: dict[str, Any] = dict(table.constants)
    if table.file.stem == "history":
        constants |= {"recorded_at": connection.ops.adapt_datetimefield_value(at), "recorded_by_id": by_id}
    names = ", ".join([*fields, *map(quote, constants)])
    values = ", ".join([*fields.values(), *("%s" for _ in constants)])
    only_new = (
        ""
        if all_new
        else f"WHERE NOT EXISTS (SELECT 1 FROM {table.name} b WHERE b.{table.key} = s.{quote(table.file.key)})"
    )
    with connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {table.name} ({names}) SELECT {values} FROM {scratch_name(table)} s {_references(table)} "
            f"{only_new} ORDER BY s.{quote(LINE)}",
            list(constants.values()),
        )


def _change(table: Table) -> None:
    fields = {table.stored_as(column.name): _value(table, column.name) for column in table.file.columns[1:]}
    differs = " OR ".join(f"t.{name} IS DISTINCT FROM {value}" for name, value in fields.items())
    fields |= {quote(name): f"s.{quote(name)}" for name in table.derived}
    source = f"FROM {scratch_name(table)} s {_references(table)} WHERE t.{table.key} = s.{quote(table.file.key)}"
    with connection.cursor() as cursor:
        if table.file.stem == "rules":
            # Two rules that trade places would be equal halfway; a use that no rule has keeps them apart meanwhile.
            cursor.execute(f"UPDATE {table.name} AS t SET {quote('use')} = '~' || t.id {source} AND ({differs})")
        changes = ", ".join(f"{name} = {value}" for name, value in fields.items())
        cursor.execute(f"UPDATE {table.name} AS t SET {changes} {source} AND ({differs})")


def _value(table: Table, column: str) -> str:
    """What a column's field is set to: the waiting text, or the id of what it names."""
    if isinstance(table.field(column), ForeignKey):
        return f"{quote(f'r_{column}')}.id"
    return f"s.{quote(column)}"


def _references(table: Table) -> str:
    """Joins from the waiting records to the rows they name."""
    joins = ""
    for column in table.file.columns:
        found = table.field(column.name)
        if isinstance(found, ForeignKey):
            related, alias = table_of(found), quote(f"r_{column.name}")
            joins += f" LEFT JOIN {related.name} {alias} ON {alias}.{related.key} = s.{quote(column.name)}"
    return joins
