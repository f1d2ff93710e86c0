"""Rows a second of `import_book`, beside the plain csv module feeding executemany from the same files.

    python -m tests.bench.import_rows [pieces]

The plain way checks nothing: one table a file, a text column a column, the key unique. Ours checks every cell, key
and reference, compares with the book and writes the real tables with their search keys and indexes. Working out the
due dates afterwards is timed by itself. Runs on the database of DATABASE_URL, in a test database of its own.
"""

import csv
import os
import random
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path

import django
from django.db import connection, transaction

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service_center.settings")
django.setup()

from service_center.exchange import actions, follow_up  # noqa: E402  # after Django is set up
from service_center.exchange.rules import FILES  # noqa: E402

AS_OF = date(2026, 3, 1)


def main() -> None:
    pieces = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as folder, _test_database():
        book = Path(folder)
        rows = _write_book(book, pieces)
        plain = _plainly(book)
        follow, actions.follow_up.follow_up = follow_up.follow_up, lambda touched, as_of: None  # type: ignore[assignment]
        started = time.perf_counter()
        first = actions.import_book(book, dry_run=False, by=None, as_of=AS_OF)
        ours = time.perf_counter() - started
        actions.follow_up.follow_up = follow  # type: ignore[assignment]
        assert first.written and not first.faults.count, first.faults.first[:3]
        started = time.perf_counter()
        again = actions.import_book(book, dry_run=False, by=None, as_of=AS_OF)
        same = time.perf_counter() - started
        assert not again.written
        started = time.perf_counter()
        follow_up.follow_up(follow_up.Touched(everything=True), as_of=AS_OF)
        due = time.perf_counter() - started
    print(f"{connection.vendor}: {rows:,} rows in {len(FILES) - 2} files, {pieces:,} pieces")
    print(f"  plain csv + executemany   {rows / plain:>10,.0f} rows/s  {plain:6.2f} s")
    print(f"  import_book               {rows / ours:>10,.0f} rows/s  {ours:6.2f} s  {ours / plain:.1f} times as long")
    print(f"  the same files again      {rows / same:>10,.0f} rows/s  {same:6.2f} s")
    print(f"  due dates of all pieces   {pieces / due:>10,.0f} pieces/s {due:5.2f} s")


@contextmanager
def _test_database() -> Iterator[None]:
    own = connection.settings_dict["NAME"]
    connection.creation.create_test_db(verbosity=0, autoclobber=True)
    try:
        yield
    finally:
        connection.creation.destroy_test_db(own, verbosity=0)


def _plainly(book: Path) -> float:
    """Seconds of the csv module feeding executemany into tables of text."""
    for file in FILES:
        if (book / file.name).exists():
            columns = ", ".join(f'"{column.name}" text' for column in file.columns[1:])
            with connection.cursor() as cursor:
                cursor.execute(f'CREATE TABLE plain_{file.stem} ("{file.key}" text PRIMARY KEY, {columns})')
    started = time.perf_counter()
    with transaction.atomic(), connection.cursor() as cursor:
        for file in FILES:
            if (book / file.name).exists():
                with (book / file.name).open(encoding="utf-8", newline="") as text:
                    rows = csv.reader(text)
                    next(rows)
                    marks = ", ".join(["%s"] * len(file.columns))
                    # Past Django's wrapper, which keeps every row it is given.
                    sql = f"INSERT INTO plain_{file.stem} VALUES ({marks})"
                    if connection.vendor == "sqlite":
                        sql = sql.replace("%s", "?")
                    cursor.cursor.connection.cursor().executemany(sql, rows)
    return time.perf_counter() - started


def _write_book(folder: Path, pieces: int) -> int:
    """A plausible book of some pieces, four entries each, from a fixed seed. Returns how many rows it has."""
    chance = random.Random(20260301)
    given = ["Ada", "Zoë", "Łukasz", "Νίκη", "Дарья", "明", "花子", "민준", "نور", "דנה"]
    family = ["Winter", "Étienne", "Nowak", "Παππά", "Орлова", "李", "佐藤", "김", "حداد", "לוי"]
    first, days = date(2012, 1, 1), [(date(2012, 1, 1) + timedelta(n)).isoformat() for n in range(5_000)]
    assert days[0] == first.isoformat()
    return (
        _write(folder, "calibres", ([f"FH-{n}", "automatic", 28800, "52", "42", "automatic"] for n in range(10, 15)))
        + _write(folder, "models", ([f"SK-{n}", "Skerry", f"FH-{10 + n % 5}", "10", "no", "steel"] for n in range(200)))
        + _write(folder, "boutiques", ([f"B{n}", f"Harrowmere {n}", "GB", "Europe/London"] for n in range(20)))
        + _write(
            folder,
            "owners",
            (
                [f"O{n:07d}", f"{chance.choice(given)} {chance.choice(family)}", f"o{n}@owners.example",
                 f"+44 20 7946 {n % 10_000:04d}", "en", "GB", "Europe/London", "yes"]
                for n in range(pieces * 4 // 5)
            ),
        )
        + _write(
            folder,
            "pieces",
            (
                [f"FH21-{n:07d}", f"SK-{n % 200}", f"O{n % (pieces * 4 // 5):07d}", f"B{n % 20}",
                 *sorted(chance.choices(days, k=2)), "everyday", "", "in_use"]
                for n in range(pieces)
            ),
        )
        + _write(
            folder,
            "history",
            (
                [f"E{n:08d}", f"FH21-{n // 4:07d}", chance.choice(days),
                 chance.choice(["overhaul", "repair", "tightness_check", "strap"]), "yes",
                 chance.choice(["passed", "failed", "not_tested"]), "own", "", ""]
                for n in range(pieces * 4)
            ),
        )
    )  # fmt: skip


def _write(folder: Path, stem: str, rows: Iterator[list[object]]) -> int:
    file = next(file for file in FILES if file.stem == stem)
    with (folder / file.name).open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow([column.name for column in file.columns])
        count = 0
        for row in rows:
            writer.writerow(row)
            count += 1
    return count


if __name__ == "__main__":
    main()
