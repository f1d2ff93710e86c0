"""Comparing the waiting files with each other and with the book: faults, what would be added, what would change."""

# ruff: noqa: S608  # names are those of the tables and columns in tables.py; values are parameters

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import connection
from django.db.models import ForeignKey

from service_center.book.countries import code_in_its_place, country_codes
from service_center.exchange.rules import SHOWN, Column, Fault, Faults, quoted
from service_center.exchange.rules.cells import Country, Day, Number, YesNo
from service_center.exchange.scratch import LINE, scratch_name
from service_center.exchange.tables import TABLES, Table, quote, table_of

EXAMPLES = 5
SAME_RULE = ("kind", "scope", "scope_value", "use", "in_force_from")


@dataclass(frozen=True, slots=True)
class Counts:
    """How many records of a file are new, differ from the book, or say what it says."""

    added: int
    changed: int
    same: int


@dataclass(frozen=True, slots=True)
class Change:
    """One cell that would change: the record's key, the column, and its text before and after."""

    key: str
    column: str
    before: str
    after: str


def doubled_keys(table: Table, faults: Faults) -> None:
    """A key may stand in a file once; the fault names the line on which it stands first."""
    key = quote(table.file.key)
    _note(
        faults,
        table,
        f"""FROM {scratch_name(table)} s JOIN
            (SELECT {key} AS doubled, min({quote(LINE)}) AS first_line FROM {scratch_name(table)}
             GROUP BY {key} HAVING count(*) > 1) d
            ON s.{key} = d.doubled AND s.{quote(LINE)} > d.first_line""",
        table.file.key,
        f"s.{key}, d.first_line",
        lambda text, first: f"{quoted(text)} is already on line {first}",
    )


def leave_out_erased(table: Table, warnings: Faults) -> None:
    """Owners whose particulars were erased are not brought back: their records are noted, and left out."""
    key = quote(table.file.key)
    erased = f"SELECT {table.key} FROM {table.name} WHERE erased_on IS NOT NULL"
    _note(
        warnings,
        table,
        f"FROM {scratch_name(table)} s WHERE s.{key} IN ({erased})",
        table.file.key,
        f"s.{key}",
        lambda text: f"{quoted(text)} was erased from the book; this record is left out",
    )
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {scratch_name(table)} WHERE {key} IN ({erased})")


def unknown_references(table: Table, read: Collection[str], unreadable: Collection[str], faults: Faults) -> None:
    """What a record refers to must be in the files or in the book.

    `read`: the files that wait in temporary tables. `unreadable`: those that are there and could not be read;
    whether something stands in them cannot be said, so nothing is.
    """
    asked = [(column.name, column.refers_to, "") for column in table.file.columns if column.refers_to]
    if table.file.stem == "rules":
        asked += [
            ("scope_value", stem, f"AND s.{quote('scope')} = '{scope}'")
            for scope, stem in (("calibre", "calibres"), ("model", "models"), ("piece", "pieces"))
        ]
    for column, stem, where in asked:
        if stem not in unreadable:
            _unknown(table, column, TABLES[stem], read, where, faults)


def _unknown(table: Table, column: str, target: Table, read: Collection[str], where: str, faults: Faults) -> None:
    cell = f"s.{quote(column)}"
    in_file = (
        f"AND NOT EXISTS (SELECT 1 FROM {scratch_name(target)} f WHERE f.{quote(target.file.key)} = {cell})"
        if target.file.stem in read
        else ""
    )
    _note(
        faults,
        table,
        f"""FROM {scratch_name(table)} s WHERE {cell} <> '' {where} {in_file}
            AND NOT EXISTS (SELECT 1 FROM {target.name} b WHERE b.{target.key} = {cell})""",
        column,
        cell,
        lambda text: f"{quoted(text)} is no {target.file.key} of the files or of the book",
    )


def unknown_countries(table: Table, faults: Faults) -> None:
    """A country is one, unless the book has that very code of the same record already: what is there goes on loading."""
    known = ", ".join(f"'{code}'" for code in sorted(country_codes()))
    for column in table.file.columns:
        if isinstance(column.cell, Country):
            cell = f"s.{quote(column.name)}"
            _note(
                faults,
                table,
                f"""FROM {scratch_name(table)} s WHERE {cell} <> '' AND {cell} NOT IN ({known})
                    AND NOT EXISTS (SELECT 1 FROM {table.name} t WHERE t.{table.key} = s.{quote(table.file.key)}
                                    AND t.{table.stored_as(column.name)} = {cell})""",
                column.name,
                cell,
                _no_country,
            )


def _no_country(code: str) -> str:
    instead = code_in_its_place(code)
    return f"{quoted(code)} is no country of ISO 3166{f'; it has {instead}' if instead else ''}"


def equal_rules(table: Table, faults: Faults) -> None:
    """Two rules of one kind, scope, value, use and day cannot both be right (due-dates.md, which rule)."""
    scratch, key = scratch_name(table), quote(table.file.key)
    same = " AND ".join(f"o.{quote(name)} = s.{quote(name)}" for name in SAME_RULE)
    say = "is equal in kind, scope, value, use and day to the rule {} {}"
    _note(
        faults,
        table,
        f"""FROM {scratch} s JOIN {scratch} o ON {same} AND o.{key} <> s.{key} AND o.{quote(LINE)} < s.{quote(LINE)}""",
        table.file.key,
        f"s.{key}, o.{key}, o.{quote(LINE)}",
        lambda text, other, line: f"{quoted(text)} {say.format(quoted(other), f'on line {line}')}",
    )
    _note(
        faults,
        table,
        f"""FROM {scratch} s JOIN {table.name} o ON {same} AND o.{table.key} <> s.{key}
            WHERE NOT EXISTS (SELECT 1 FROM {scratch} f WHERE f.{key} = o.{table.key})""",
        table.file.key,
        f"s.{key}, o.{table.key}",
        lambda text, other: f"{quoted(text)} {say.format(quoted(other), 'of the book')}",
    )


def edited_facts(table: Table, faults: Faults) -> None:
    """An entry that the book has must come as the book has it."""
    for column in table.file.columns[1:]:
        _note(
            faults,
            table,
            f"{_beside_the_book(table, 'JOIN')} WHERE {_differs(table, column)}",
            column.name,
            f"s.{quote(table.file.key)}",
            lambda text: (
                f"{table.file.key} {quoted(text)} has another value in the book; "
                "history is never edited: add a later entry that corrects it"
            ),
        )


def odd_days(table: Table, warnings: Faults) -> None:
    """Days in an order that can hardly be meant: noted, and taken as they are."""
    if table.file.stem != "pieces":
        return
    for earlier, later, said in (
        ("made_on", "sold_on", "sold before it was made"),
        ("sold_on", "extension_enrolled_on", "enrolled before it was sold"),
    ):
        _note(
            warnings,
            table,
            f"FROM {scratch_name(table)} s WHERE s.{quote(later)} < s.{quote(earlier)}",
            later,
            f"s.{quote(later)}, s.{quote(earlier)}",
            lambda after, before, said=said: f"{after} lies before {before}: {said}",
        )


def _note(faults: Faults, table: Table, source: str, column: str, values: str, say: Any) -> None:
    """Add a fault for each row of a query: the first in full, all of them counted."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT s.{quote(LINE)}, {values} {source} ORDER BY 1 LIMIT {SHOWN + 1}")
        rows = cursor.fetchall()
        for line, *found in rows:
            faults.add(Fault(table.file.name, line, column, say(*found)))
        if len(rows) > SHOWN:
            cursor.execute(f"SELECT count(*) {source}")
            faults.count += cursor.fetchone()[0] - len(rows)


def counts_of(table: Table) -> Counts:
    """How many records would be added, changed, or are there already. One statement."""
    changed = " OR ".join(_differs(table, column) for column in table.file.columns[1:])
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT count(*), count(t.id), count(CASE WHEN t.id IS NOT NULL AND ({changed}) THEN 1 END) "
            f"{_beside_the_book(table, 'LEFT JOIN')}"
        )
        waiting, there, different = cursor.fetchone()
    return Counts(added=waiting - there, changed=different, same=there - different)


def changed_ids(table: Table, columns: Sequence[str]) -> list[int]:
    """The book's rows that differ in any of some columns."""
    differs = " OR ".join(_differs(table, column) for column in table.file.columns if column.name in columns)
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT t.id {_beside_the_book(table, 'JOIN')} WHERE {differs}")
        return [pk for (pk,) in cursor.fetchall()]


def examples_of(table: Table) -> list[Change]:
    """The first records that would change, cell by cell. One statement."""
    columns = table.file.columns[1:]
    before = [_book_text(table, column) for column in columns]
    after = [f"s.{quote(column.name)}" for column in columns]
    differs = " OR ".join(_differs(table, column) for column in columns)
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT s.{quote(table.file.key)}, {', '.join(before + after)} {_beside_the_book(table, 'JOIN')} "
            f"WHERE {differs} ORDER BY s.{quote(LINE)} LIMIT {EXAMPLES}"
        )
        rows = cursor.fetchall()
    return [
        Change(key, column.name, written(column, old), written(column, new))
        for key, *cells in rows
        for column, old, new in zip(columns, cells[: len(columns)], cells[len(columns) :], strict=True)
        if written(column, old) != written(column, new)
    ]


def written(column: Column, value: Any) -> str:
    """A stored value as a file writes it; both databases' own forms of it are understood."""
    if value is None or value == "":
        return ""
    match column.cell:
        case YesNo():
            return "yes" if value else "no"
        case Number():
            number = Decimal(str(value))
            return f"{number.normalize():f}"
        case Day():
            return value.isoformat() if isinstance(value, date | datetime) else str(value)
        case _:
            return str(value)


def _beside_the_book(table: Table, join: str) -> str:
    """The waiting records (s) beside the book's rows of the same key (t), and what those refer to (r_...)."""
    related = ""
    for column in table.file.columns[1:]:
        found = table.field(column.name)
        if isinstance(found, ForeignKey):
            alias = quote(f"r_{column.name}")
            related += f" LEFT JOIN {table_of(found).name} {alias} ON {alias}.id = t.{table.stored_as(column.name)}"
    return f"FROM {scratch_name(table)} s {join} {table.name} t ON t.{table.key} = s.{quote(table.file.key)}{related}"


def _book_text(table: Table, column: Column) -> str:
    found = table.field(column.name)
    if isinstance(found, ForeignKey):
        return f"coalesce({quote(f'r_{column.name}')}.{table_of(found).key}, '')"
    return f"t.{table.stored_as(column.name)}"


def _differs(table: Table, column: Column) -> str:
    return f"{_book_text(table, column)} IS DISTINCT FROM s.{quote(column.name)}"
