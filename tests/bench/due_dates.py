"""`recompute_due` for a whole maker, beside the plainest way to write the same dates; ratios, not seconds.

    python -m tests.bench.due_dates [pieces]

On PostgreSQL the plain way is one SQL statement that knows nothing but the house defaults, and writes no reasons. On
SQLite it is reading every row of pieces and history once, and writing every date once. Both write into a table made
like ours, indexes and all. Each way runs in turn, three times over; the middle of the three ratios counts. Runs on the
database of DATABASE_URL, in a test database of its own; a million pieces take some minutes.
"""

import os
import resource
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date

import django
from django.db import connection, transaction

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service_center.settings")
django.setup()

from service_center.book.models import HistoryEntry, Piece  # noqa: E402  # after Django is set up
from service_center.demo import large_book  # noqa: E402
from service_center.intervals.actions import recompute  # noqa: E402
from service_center.intervals.queries import setwise  # noqa: E402

AS_OF = date(2026, 6, 30)
ROUNDS = 3
PLAIN = "plain_due_date"
COLUMNS = "piece_id, kind, starts_on, start_fact, opens_on, due_on, closes_on, owed_since, held, boutique_id"


def main() -> None:
    pieces = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with _test_database():
        large_book.make(
            pieces, until=AS_OF, seed=7, progress=lambda done: print(".", end="", file=sys.stderr, flush=True)
        )
        _make_plain_table()
        plainly = _one_statement if connection.vendor == "postgresql" else _read_and_write
        ratios, again = [], []
        for _round in range(ROUNDS):
            _empty("intervals_duedate")
            _empty(PLAIN)
            plain = _seconds(plainly)
            ours = _seconds(lambda: recompute(None, as_of=AS_OF))
            ratios.append(ours / plain)
            again.append(_seconds(lambda: recompute(None, as_of=AS_OF)) / plain)
        if connection.vendor == "postgresql":
            _assert_the_same_dates()
        one = _seconds(lambda: recompute([Piece.objects.values_list("pk", flat=True)[pieces // 2]], as_of=AS_OF))
        entries = HistoryEntry.objects.count()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{connection.vendor}: {pieces:,} pieces, {entries:,} history entries")
    print(f"  recompute_due, nothing stored yet     {statistics.median(ratios):.2f} times the plain way {_all(ratios)}")
    print(f"  recompute_due, all stored already     {statistics.median(again):.2f} times the plain way {_all(again)}")
    print(f"  the plain way {plain:.1f} s, ours {ours:.1f} s in the last round ({pieces / ours:,.0f} pieces a second)")
    print(f"  one new fact, one piece               {one * 1000:.0f} ms")
    print(f"  memory of this process, at most       {peak:,.0f} MB")


def _all(ratios: list[float]) -> str:
    return "(" + ", ".join(f"{ratio:.2f}" for ratio in ratios) + ")"


def _seconds(deed: Callable[[], object]) -> float:
    started = time.perf_counter()
    deed()
    return time.perf_counter() - started


def _make_plain_table() -> None:
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(f"CREATE TABLE {PLAIN} (LIKE intervals_duedate INCLUDING ALL)")
            return
        cursor.execute("SELECT sql FROM sqlite_master WHERE tbl_name = 'intervals_duedate' AND sql IS NOT NULL")
        for (statement,) in cursor.fetchall():
            like = statement.replace("intervals_duedate", PLAIN).replace('INDEX "', 'INDEX "plain_')
            cursor.execute(like)


def _empty(table: str) -> None:
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(f"TRUNCATE {table}")
        else:
            cursor.execute(f"DELETE FROM {table}")


def _one_statement() -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        setwise.tune(cursor)  # the same memory and plans for both; left alone, the planner never ends this one
        cursor.execute(PLAIN_STATEMENT, {"as_of": AS_OF})


def _read_and_write() -> None:
    """Every row read once, every date written once; the dates themselves are there already."""
    with transaction.atomic(), connection.cursor() as cursor:
        for table in ("book_piece", "book_historyentry"):
            cursor.execute(f"SELECT * FROM {table}")
            while cursor.fetchmany(10_000):
                pass
        marks = ", ".join(["%s"] * 10)
        write = f"INSERT INTO {PLAIN} ({COLUMNS}) VALUES ({marks})"
        rows = _dates_to_write()
        while batch := [row for row, _n in zip(rows, range(10_000), strict=False)]:
            cursor.executemany(write, batch)


def _dates_to_write() -> Iterator[tuple[object, ...]]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT id, rated FROM plain_piece ORDER BY id")
        while rows := cursor.fetchmany(10_000):
            for piece_id, rated in rows:
                dates = ("2020-01-01", "sale", "2026-01-01", "2027-01-01", "2028-01-01", None, "", 1 + piece_id % 12)
                yield (piece_id, "overhaul", *dates)
                if rated:
                    yield (piece_id, "tightness", *dates)


def _assert_the_same_dates() -> None:
    with connection.cursor() as cursor:
        for one, other in (("intervals_duedate", PLAIN), (PLAIN, "intervals_duedate")):
            cursor.execute(
                "SELECT count(*) FROM ("
                f"SELECT piece_id, kind, starts_on, opens_on, due_on, closes_on, owed_since, held FROM {one} EXCEPT "
                f"SELECT piece_id, kind, starts_on, opens_on, due_on, closes_on, owed_since, held FROM {other}) x"
            )
            [(different,)] = cursor.fetchall()
            assert different == 0, f"{different} rows of {one} are not in {other}"


PLAIN_STATEMENT = f"""
WITH facts AS (
    SELECT piece_id, done_on, kind, tightness, case_opened,
        done_by = 'own' OR COALESCE(accepted, false) AS counts
    FROM book_historyentry h
    WHERE done_on <= %(as_of)s
        AND NOT EXISTS (SELECT 1 FROM book_historyentry v WHERE v.voids_id = h.id AND v.done_on <= %(as_of)s)
), latest AS (
    SELECT piece_id, max(done_on) FILTER (WHERE kind = 'overhaul' AND counts) AS overhaul,
        max(done_on) FILTER (WHERE tightness = 'passed' AND counts) AS pass
    FROM facts GROUP BY piece_id
), pieces AS (
    SELECT p.id, p.boutique_id, m.rated_bar IS NOT NULL AS rated, p.use,
        CASE WHEN p.status NOT IN ('', 'in_use') THEN p.status
            WHEN (SELECT place FROM book_custody c WHERE c.piece_id = p.id ORDER BY since DESC, id DESC LIMIT 1)
                <> 'owner' THEN 'workshop' ELSE '' END AS held,
        COALESCE(l.overhaul, CASE WHEN p.sold_on > (p.made_on + interval '36 months')::date
            THEN (p.made_on + interval '36 months')::date END, p.sold_on, p.made_on) AS overhaul_start,
        COALESCE(l.pass, p.sold_on, p.made_on) AS tightness_start
    FROM book_piece p LEFT JOIN latest l ON l.piece_id = p.id LEFT JOIN book_watchmodel m ON m.id = p.model_id
), owed AS (
    SELECT p.id, min(f.done_on) AS since FROM facts f JOIN pieces p ON p.id = f.piece_id
    WHERE f.done_on > p.tightness_start AND (f.tightness = 'failed'
        OR (f.case_opened AND NOT (f.tightness = 'passed' AND f.counts)))
    GROUP BY p.id
)
INSERT INTO {PLAIN} ({COLUMNS})
SELECT id, 'overhaul', overhaul_start, '', (overhaul_start + interval '72 months')::date,
    (overhaul_start + interval '84 months')::date, (overhaul_start + interval '96 months')::date,
    NULL, held, boutique_id
FROM pieces
UNION ALL
SELECT p.id, 'tightness', tightness_start, '',
    COALESCE(since, tightness_start + CASE use WHEN 'in_water' THEN interval '5 months' ELSE interval '11 months' END)::date,
    COALESCE(since, tightness_start + CASE use WHEN 'in_water' THEN interval '6 months' ELSE interval '12 months' END)::date,
    COALESCE(since, tightness_start + CASE use WHEN 'in_water' THEN interval '9 months' ELSE interval '15 months' END)::date,
    since, held, boutique_id
FROM pieces p LEFT JOIN owed o ON o.id = p.id WHERE rated
"""


@contextmanager
def _test_database() -> Iterator[None]:
    name = connection.settings_dict["NAME"]
    connection.creation.create_test_db(verbosity=0, autoclobber=True)
    try:
        if connection.vendor == "sqlite":
            with connection.cursor() as cursor:
                cursor.execute(
                    "CREATE TEMP VIEW plain_piece AS SELECT p.id AS id, m.rated_bar IS NOT NULL AS rated "
                    "FROM book_piece p LEFT JOIN book_watchmodel m ON m.id = p.model_id"
                )
        yield
    finally:
        connection.creation.destroy_test_db(name, verbosity=0)


if __name__ == "__main__":
    main()
