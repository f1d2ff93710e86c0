"""What other rules would make of the due dates, worked out by the database and stored nowhere.

A rule never changes a start: the stored due dates have it, so only the months are put to it anew, before and after,
for the pieces that a changed rule speaks of. Which rule applies is asked of `rules.rule_for`, as in setwise.py. Two
kinds of rows take another way: a kind that only now begins to apply has no start stored, so its rows come from the
statement of the whole pass; pieces whose readings may matter go the one-piece way (foreseeing_by_facts.py).
"""

# ruff: noqa: S608  # our own names; every value is a parameter

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from typing import Any

from django.conf import settings
from django.db import connection
from django.db.backends.utils import CursorWrapper
from django.db.models import Max, Min

from service_center.book.models import Piece, WatchModel
from service_center.book.rules import ServiceKind, Use
from service_center.intervals.queries import setwise, statement
from service_center.intervals.queries.foreseeing_by_facts import add_by_facts
from service_center.intervals.queries.look import Look
from service_center.intervals.rules import PieceFacts, Scope, rule_for

CHUNK = 50_000
SPAN_MONTHS = ("opens_before", "due_before", "closes_before", "opens_after", "due_after", "closes_after")
COLUMNS = (
    "piece_id", "kind", "starts_on", "owed_since", "held", "applied", "applies", *SPAN_MONTHS,
    "months", "invited_before", "invited_after",
)  # fmt: skip
TABLES = {
    "foresee_class": "model_id bigint, worn varchar(16), class integer",
    "foresee_own": "piece_id bigint, class integer",
    "foresee_readings": "piece_id bigint",
    "foresee_span": (
        "class integer, kind varchar(16), first_start date, last_start date, "
        + ", ".join(f"{name} integer" for name in SPAN_MONTHS)
    ),
    "foresee_piece": "piece_id bigint, class integer",
    "due_foreseen": (
        "{id}, piece_id bigint, kind varchar(16), starts_on date, owed_since date, held varchar(16), applied {flag}, "
        "applies {flag}, opens_before date, due_before date, closes_before date, opens_after date, due_after date, "
        "closes_after date, months integer, invited_before date, invited_after date"
    ),
}
TYPES = {
    "postgresql": {"id": "id bigserial PRIMARY KEY", "flag": "boolean"},
    "sqlite": {"id": "id integer PRIMARY KEY", "flag": "bool"},
}


@contextmanager
def foreseen(look: Look) -> Iterator[int]:
    """Fill `ForeseenDue` for this connection, a row a due date that a changed rule speaks of; gives how many pieces.

    The stored due dates must be of the day `look.as_of`. About 25 statements; where a kind begins to apply, one more
    for every 50,000 pieces of the book, and where readings may matter, four for every 2,000 such pieces.
    """
    with connection.cursor() as cursor:
        try:
            kinds = _fill(cursor, look)
            if kinds:
                _add_what_begins_to_apply(cursor, look, kinds)
            if connection.vendor == "postgresql":
                cursor.execute("ANALYZE due_foreseen")
            cursor.execute("SELECT count(*) FROM foresee_piece")
            yield cursor.fetchone()[0]
        finally:
            if not connection.needs_rollback:
                for table in TABLES:
                    cursor.execute(f"DROP TABLE IF EXISTS {table}")


def _fill(cursor: CursorWrapper, look: Look) -> set[ServiceKind]:
    """Everything but the kinds that begin to apply, which it returns."""
    for table, columns in TABLES.items():
        cursor.execute(f"DROP TABLE IF EXISTS {table}")
        cursor.execute(f"CREATE TEMPORARY TABLE {table} ({columns.format(**TYPES[connection.vendor])})")
    spans = _fill_classes(cursor, look)
    readings = sorted(setwise.pieces_with_readings_that_matter(look.as_of))
    setwise.insert(cursor, "foresee_readings", [(piece,) for piece in readings])
    cursor.execute("CREATE INDEX foresee_span_key ON foresee_span (class, kind, first_start)")
    cursor.execute(PIECES)
    _analyze(cursor, "foresee_class", "foresee_own", "foresee_readings", "foresee_span", "foresee_piece")
    cursor.execute(_stored_rows(connection.vendor), {**_parameters(look), "no_start": setwise.NO_START.isoformat()})
    cursor.execute("SELECT piece_id FROM foresee_piece JOIN foresee_readings USING (piece_id)")
    add_by_facts([piece for (piece,) in cursor.fetchall()], look)
    return {ServiceKind(span[1]) for span in spans if span[5] is None and span[8] is not None}


def _fill_classes(cursor: CursorWrapper, look: Look) -> list[tuple[Any, ...]]:
    """Classes of pieces that one set of rules applies to alike, as far as a changed rule speaks of them."""
    models = {0: ("", "")}
    rows = WatchModel.objects.values_list("pk", "reference", "calibre__code")
    models |= {pk: (reference, calibre or "") for pk, reference, calibre in rows}
    of_model: list[tuple[Any, ...]] = []
    of_piece: list[tuple[Any, ...]] = []
    spans: list[tuple[Any, ...]] = []
    for model, (reference, calibre) in models.items():
        for use in ("", *(use.value for use in Use)):
            piece = setwise.any_piece_of("", reference, calibre, use)
            if look.kinds_of(piece):
                number = len(of_model) + 1
                of_model.append((model, use, number))
                spans += _spans(number, piece, look)
    own = {rule.scope_value for rule in (*look.before, *look.after) if rule.scope is Scope.PIECE}
    for pk, serial, model_id, use in Piece.objects.filter(serial__in=own).values_list("pk", "serial", "model", "use"):
        piece = setwise.any_piece_of(serial, *models[model_id or 0], use)
        if look.kinds_of(piece):
            number = len(of_model) + len(of_piece) + 1
            of_piece.append((pk, number))
            spans += _spans(number, piece, look)
    setwise.insert(cursor, "foresee_class", of_model)
    setwise.insert(cursor, "foresee_own", of_piece)
    setwise.insert(cursor, "foresee_span", spans)
    return spans


def _spans(number: int, piece: PieceFacts, look: Look) -> Iterator[tuple[Any, ...]]:
    """For a class and a kind, starts from one day to another: the months before and after, empty where none apply."""
    for kind in sorted(look.kinds_of(piece)):
        before, after = (
            [rule for rule in rules if rule.kind is kind and rule.matches(piece)] for rules in (look.before, look.after)
        )
        # The answer changes only on a day on which a rule comes into force.
        firsts = sorted({setwise.FIRST_START, *(rule.in_force_from for rule in (*before, *after))})
        lasts = [*(day - timedelta(days=1) for day in firsts[1:]), date.max]
        stretches: list[tuple[date | None, date, date]] = [(None, setwise.NO_START, setwise.NO_START)]
        stretches += zip(firsts, firsts, lasts, strict=True)
        for start, first, last in stretches:
            found = (rule_for(piece, kind, start, rules, look.on) for rules in (before, after))
            months = [
                month for rule in found for month in ((rule.opens, rule.due, rule.closes) if rule else (None,) * 3)
            ]
            yield number, kind.value, first.isoformat(), last.isoformat(), *months


PIECES = """
INSERT INTO foresee_piece (piece_id, class)
SELECT p.id, c.class FROM foresee_class c JOIN book_piece p ON p.model_id = c.model_id AND p.use = c.worn
WHERE p.id NOT IN (SELECT piece_id FROM foresee_own)
UNION ALL
SELECT p.id, c.class FROM foresee_class c JOIN book_piece p ON p.model_id IS NULL AND p.use = c.worn
WHERE c.model_id = 0 AND p.id NOT IN (SELECT piece_id FROM foresee_own)
UNION ALL
SELECT piece_id, class FROM foresee_own"""


def _stored_rows(vendor: str) -> str:
    """From what is stored: the start, and the months of before and after put to it; what is owed stays owed."""
    say = statement.WORDS[vendor]
    days = ", ".join(
        f"CASE WHEN r.{name} IS NOT NULL THEN COALESCE(d.owed_since, {say.add_months.format('d.starts_on', f'r.{name}')}) "
        f"END AS {name}"
        for name in SPAN_MONTHS
    )
    return f"""
INSERT INTO due_foreseen ({", ".join(COLUMNS)})
SELECT piece_id, kind, starts_on, owed_since, held, applied, applies, {", ".join(SPAN_MONTHS)},
    CASE WHEN owed_since IS NULL AND starts_on IS NOT NULL THEN months END,
    {_invited(vendor, "before")}, {_invited(vendor, "after")}
FROM (
    SELECT d.piece_id, d.kind, d.starts_on, d.owed_since, d.held,
        r.due_before IS NOT NULL AS applied, r.due_after IS NOT NULL AS applies, {days},
        r.due_after - r.due_before AS months
    FROM foresee_piece f
    JOIN intervals_duedate d ON d.piece_id = f.piece_id
    JOIN foresee_span r ON r.class = f.class AND r.kind = d.kind
        AND COALESCE(d.starts_on, %(no_start)s) BETWEEN r.first_start AND r.last_start
    WHERE d.piece_id NOT IN (SELECT piece_id FROM foresee_readings)
) told"""


def _invited(vendor: str, when: str) -> str:
    """As rules/rulebook.py says it (`invitation_day`)."""
    ahead = {
        "postgresql": f"GREATEST(opens_{when}, due_{when} - CAST(%(days_before_due)s AS integer))",
        "sqlite": f"max(opens_{when}, date(due_{when}, -%(days_before_due)s || ' days'))",
    }[vendor]
    return (
        f"CASE WHEN due_{when} IS NULL THEN NULL WHEN owed_since IS NOT NULL THEN owed_since "
        f"WHEN kind = 'overhaul' THEN {ahead} ELSE opens_{when} END"
    )


def _parameters(look: Look) -> dict[str, str | int | None]:
    return {"days_before_due": look.days_before_due}


def _add_what_begins_to_apply(cursor: CursorWrapper, look: Look, kinds: set[ServiceKind]) -> None:
    """Rows of kinds that had none: their starts are read off the facts by the statement of the whole pass."""
    ends = Piece.objects.aggregate(first=Min("pk"), last=Max("pk"))
    if ends["first"] is None:
        return
    readings = setwise.pieces_with_readings_that_matter(look.as_of)
    try:
        setwise.fill_tables(cursor, look.after, {}, readings, look.on)
        told = f"""
INSERT INTO due_foreseen ({", ".join(COLUMNS)})
SELECT piece_id, kind, starts_on, owed_since, held, false, true, NULL, NULL, NULL, opens_after, due_after, closes_after,
    NULL, NULL, {_invited(connection.vendor, "after")}
FROM (
    SELECT x.*, opens_on AS opens_after, due_on AS due_after, closes_on AS closes_after
    FROM ({statement.due_rows(connection.vendor)}) x
    JOIN foresee_piece f ON f.piece_id = x.piece_id
    JOIN foresee_span r ON r.class = f.class AND r.kind = x.kind AND r.due_before IS NULL AND r.first_start = %(no_start)s
) told"""
        values = setwise.parameters(look.as_of, settings.SHELF_MONTHS) | _parameters(look)
        for chunk in range(ends["first"] // CHUNK, ends["last"] // CHUNK + 1):
            cursor.execute(told, {**values, "first": chunk * CHUNK, "last": (chunk + 1) * CHUNK - 1})
    finally:
        if not connection.needs_rollback:
            setwise.drop_tables(cursor)


def _analyze(cursor: CursorWrapper, *tables: str) -> None:
    if connection.vendor == "postgresql":
        for table in tables:
            cursor.execute(f"ANALYZE {table}")
