"""What was corrected of owners here, by them or by the desk, beside a file that may still say what stood there before.

The files are the house's word (outside.md), and a correction is its owner's, whoever wrote it down. A file that says
what stood before the correction does not know of it: the correction is kept. One that says something else is the newer
word, and is written. Either is told, cell by cell.
"""

# ruff: noqa: S608  # names are those of the tables and columns in tables.py; values are parameters

from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import Any

from django.db import connection

from service_center.access.models import Trail
from service_center.book.actions import owner_keys
from service_center.book.models import Owner
from service_center.exchange.rules import Fault, Faults, quoted
from service_center.exchange.scratch import LINE, scratch_name
from service_center.exchange.tables import Table, quote
from service_center.letters.models import Answer, LetterGround
from service_center.letters.rules.words import AnswerChoice, Ground

CORRECTED = ("name", "email", "phone", "language", "country", "time_zone", "letters")
DEEDS = ("owner_corrects", "desk_corrects", "email_confirmed", "decides_name", "letters_again", "letter_ground")
AT_ONCE = 500
Before = Mapping[str, Mapping[str, set[Any]]]


def keep_corrections(table: Table, warnings: Faults) -> tuple[int, int]:
    """Put owners' corrections in the place of what a file of owners still says from before.

    Returns how many particulars are kept so, and how many that owners corrected will be overwritten. Statements: two,
    and three for each 500 owners who ever corrected anything.
    """
    kept = overwritten = 0
    for codes in _who_corrected():
        before = _before(codes)
        for line, code, column, theirs, said in _differing(table, codes):
            earlier = before[code].get(column, set())
            if not earlier:
                continue
            # A "no" to letters is never too old to be heard.
            if said in earlier and not (column == "letters" and said is False):
                _put(table, code, column, theirs)
                kept += 1
                told = "kept: it was corrected here, and the file says what stood there before"
            else:
                overwritten += 1
                told = "overwrites what was corrected here"
            warnings.add(Fault(table.file.name, line, column, f"{quoted(code)}: {told}"))
    return kept, overwritten


def _who_corrected() -> Iterator[list[str]]:
    """Codes of owners who corrected something or stopped letters, so many at a time."""
    trail = Trail.objects.filter(deed__in=DEEDS).order_by().values_list("subject", flat=True).distinct()
    codes = {subject.partition(":")[2] for subject in trail}
    stopped = Owner.objects.filter(pk__in=_stopped())
    codes |= set(stopped.values_list("code", flat=True))
    ordered = sorted(codes)
    for at in range(0, len(ordered), AT_ONCE):
        yield ordered[at : at + AT_ONCE]


def _stopped() -> set[int]:
    said = Answer.objects.filter(choice=AnswerChoice.NO_MORE_LETTERS).values_list("owner", flat=True)
    return set(said) | set(LetterGround.objects.filter(ground=Ground.WITHDRAWN).values_list("owner", flat=True))


def _before(codes: list[str]) -> Before:
    """What stood in each particular before its owner corrected it, at any time."""
    found: dict[str, dict[str, set[Any]]] = defaultdict(lambda: defaultdict(set))
    rows = Trail.objects.filter(subject__in=[f"owner:{code}" for code in codes], deed__in=DEEDS)
    for subject, record in rows.values_list("subject", "before"):
        for column in CORRECTED:
            if isinstance(record, dict) and column in record:
                found[subject.partition(":")[2]][column].add(record[column])
    # Whoever said no was written to before, or never asked: neither word of a file makes a yes of it.
    for code in Owner.objects.filter(code__in=codes, letters=False, pk__in=_stopped()).values_list("code", flat=True):
        found[code]["letters"] |= {True, None}
    return found


def _differing(table: Table, codes: list[str]) -> list[tuple[int, str, str, Any, Any]]:
    """Line, code, column, what the book says and what the file says, of each particular that differs."""
    columns = [column for column in CORRECTED if any(one.name == column for one in table.file.columns)]
    cells = ", ".join(f"t.{table.stored_as(column)}, s.{quote(column)}" for column in columns)
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT s.{quote(LINE)}, t.{table.key}, {cells} FROM {scratch_name(table)} s JOIN {table.name} t "
            f"ON t.{table.key} = s.{quote(table.file.key)} WHERE t.{table.key} IN ({', '.join(['%s'] * len(codes))}) "
            f"ORDER BY 1",
            codes,
        )
        rows = cursor.fetchall()
    found = []
    for line, code, *values in rows:
        for column, theirs, said in zip(columns, values[::2], values[1::2], strict=True):
            book, file = _plain(column, theirs), _plain(column, said)
            if book != file:
                found.append((line, code, column, book, file))
    return found


def _plain(column: str, value: Any) -> Any:
    """SQLite has numbers for yes and no."""
    return bool(value) if column == "letters" and value is not None else value


def _put(table: Table, code: str, column: str, value: Any) -> None:
    scratch, key = scratch_name(table), quote(table.file.key)
    with connection.cursor() as cursor:
        cursor.execute(f"UPDATE {scratch} SET {quote(column)} = %s WHERE {key} = %s", [value, code])
        if column in table.derived_from:
            cursor.execute(f"SELECT {quote('name')}, {quote('phone')} FROM {scratch} WHERE {key} = %s", [code])
            name, phone = cursor.fetchone()
            keys = owner_keys(name=name, phone=phone)
            names = ", ".join(f"{quote(one)} = %s" for one in keys)
            cursor.execute(f"UPDATE {scratch} SET {names} WHERE {key} = %s", [*keys.values(), code])
