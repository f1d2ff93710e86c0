"""Owners who were erased, beside a file of owners that may still name them, under their own code or under another.

Whoever was erased is not brought back, and nobody writes to the address that was theirs (GDPR, Art. 17).
"""

# ruff: noqa: S608  # names are those of the tables and columns in tables.py; values are parameters

from collections.abc import Iterator

from django.conf import settings
from django.db import connection

from service_center.exchange.rules import Fault, Faults, quoted
from service_center.exchange.scratch import LINE, scratch_name
from service_center.exchange.tables import Table, quote
from service_center.owner_pages.models import ErasedAddress
from service_center.owner_pages.rules.erased import hash_of

ROWS_AT_A_TIME = 5_000
EMPTIED = ("name", "email", "phone")


def empty_erased_addresses(table: Table, warnings: Faults) -> int:
    """Take the particulars out of records whose e-mail address was erased with its owner. Returns how many.

    Such a record keeps what the book has under its code, or nothing, and gets no letters; it is noted. Somebody who
    came back is written in at the counter: an address that a living owner of the book has is no erased one. One
    statement where nobody was ever erased; otherwise one over the file, and two for each record found.
    """
    erased = set(ErasedAddress.objects.values_list("hash", flat=True))
    if not erased:
        return 0
    secrets = [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]
    found = [
        (line, code)
        for line, code, email in _addresses_new_to_the_book(table)
        if any(hash_of("email", email, secret) in erased for secret in secrets)
    ]
    for line, code in found:
        _empty(table, code)
        warnings.add(
            Fault(
                table.file.name,
                line,
                "email",
                f"{quoted(code)}: this address was erased from the book with its owner; name, e-mail and telephone are "
                "left out, and no letters go there. Somebody who came back is written in at the counter",
            )
        )
    return len(found)


def _addresses_new_to_the_book(table: Table) -> Iterator[tuple[int, str, str]]:
    """Line, code and address of each record with an address that no owner of the book has."""
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT s.{quote(LINE)}, s.{quote(table.file.key)}, s.{quote('email')} FROM {scratch_name(table)} s "
            f"WHERE s.{quote('email')} <> '' AND NOT EXISTS (SELECT 1 FROM {table.name} b "
            f"WHERE lower(b.{quote('email')}) = lower(s.{quote('email')})) ORDER BY 1"
        )
        while rows := cursor.fetchmany(ROWS_AT_A_TIME):
            yield from rows


def _empty(table: Table, code: str) -> None:
    scratch, key = scratch_name(table), quote(table.file.key)
    columns = [*EMPTIED, *table.derived]
    with connection.cursor() as cursor:
        stored = ", ".join(quote(column) for column in columns)
        cursor.execute(f"SELECT {stored} FROM {table.name} WHERE {table.key} = %s", [code])
        there = cursor.fetchone() or [""] * len(columns)
        put = ", ".join(f"{quote(column)} = %s" for column in columns)
        cursor.execute(f"UPDATE {scratch} SET {put}, {quote('letters')} = %s WHERE {key} = %s", [*there, False, code])
