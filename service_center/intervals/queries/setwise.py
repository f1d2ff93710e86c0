"""The due dates of many pieces in one statement, in the database's own terms.

The rules are not written here a second time where that can be avoided: which rule applies is asked of `rules.rule_for`
for every class of pieces and every stretch of starts, and handed to the statement as a table (`spans`). Starts, what is
owed and who holds a piece are read here as rules/start.py and rules/due.py read them; a test holds the two together on
random books. Evidence is left to the one-piece path: few pieces have readings that matter (`pieces_with_readings_that_matter`).
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta

from django.db import connection
from django.db.backends.utils import CursorWrapper
from django.db.models import Count, Min, Q

from service_center.book.models import Piece, WatchModel
from service_center.book.rules import ServiceKind, Status, Use
from service_center.intervals.queries import statement
from service_center.intervals.queries.facts import midnight_after
from service_center.intervals.rules import PieceFacts, Rule, Scope, rule_for
from service_center.measurements.models import TimingSheet
from service_center.measurements.rules import VERTICAL, Wind
from service_center.measurements.rules.service_limits import COMMON_PRACTICE, ServiceLimits
from service_center.measurements.rules.trend import FEWEST_VISITS

# A start that is not known, as a day: before every day that a fact can have, so that a range can hold it.
NO_START = date.min
# What a pass over the whole book may keep of the database's pages on SQLite: a quarter of what it may take in all.
CACHE_KIB = 256 * 1024
FIRST_START = NO_START + timedelta(days=1)
TABLES = {
    "due_class": "model_id bigint, worn varchar(16), class integer",
    "due_own_class": "piece_id bigint, class integer",
    "due_left_out": "piece_id bigint",
    "due_span": (
        "class integer, kind varchar(16), first_start date, last_start date, rule_id bigint, "
        "opens integer, due integer, closes integer"
    ),
}


@dataclass(frozen=True, slots=True)
class Span:
    """For a class of pieces, a kind and starts from one day to another: the rule and its months."""

    piece_class: int
    kind: ServiceKind
    first: date
    last: date
    rule: Rule


@dataclass(frozen=True, slots=True)
class Classes:
    """Pieces that one set of rules applies to alike: those of a model and a use, or one with a rule of its own."""

    of_model: dict[tuple[int, str], int]
    of_piece: dict[int, int]
    spans: list[Span]


def classes_of(rules: Sequence[Rule], as_of: date) -> Classes:
    """Every class of the book with its spans. Two statements; pieces without a model are of model 0."""
    models = {0: ("", "")}
    rows = WatchModel.objects.values_list("pk", "reference", "calibre__code")
    models |= {pk: (reference, calibre or "") for pk, reference, calibre in rows}
    uses = ["", *(use.value for use in Use)]
    own = {rule.scope_value for rule in rules if rule.scope is Scope.PIECE}
    singles = Piece.objects.filter(serial__in=own).values_list("pk", "serial", "model_id", "use")
    found = Classes({}, {}, [])
    for model, (reference, calibre) in models.items():
        for use in uses:
            number = found.of_model[model, use] = len(found.of_model) + 1
            found.spans.extend(_spans(number, any_piece_of("", reference, calibre, use), rules, as_of))
    for pk, serial, model_id, use in singles:
        number = found.of_piece[pk] = len(found.of_model) + len(found.of_piece) + 1
        found.spans.extend(_spans(number, any_piece_of(serial, *models[model_id or 0], use), rules, as_of))
    return found


def any_piece_of(serial: str, reference: str, calibre: str, use: str) -> PieceFacts:
    """A piece as far as scope and use go; nothing else about it is known."""
    return PieceFacts(
        serial=serial,
        reference=reference,
        calibre=calibre,
        rated=True,
        made_on=None,
        sold_on=None,
        use=Use(use) if use else None,
        status=Status.IN_USE,
        moves=(),
        history=(),
    )


def _spans(number: int, piece: PieceFacts, rules: Sequence[Rule], as_of: date) -> Iterable[Span]:
    for kind in ServiceKind:
        matching = [rule for rule in rules if rule.kind is kind and rule.matches(piece)]
        if not matching:
            continue
        without = rule_for(piece, kind, None, matching, as_of)
        assert without is not None  # one matches
        yield Span(number, kind, NO_START, NO_START, without)
        # The answer changes only on a day on which a rule comes into force.
        firsts = sorted({FIRST_START, *(rule.in_force_from for rule in matching if rule.in_force_from > FIRST_START)})
        lasts = [*(day - timedelta(days=1) for day in firsts[1:]), date.max]
        for first, last in zip(firsts, lasts, strict=True):
            rule = rule_for(piece, kind, first, matching, as_of)
            assert rule is not None
            yield Span(number, kind, first, last, rule)


def fill_tables(
    cursor: CursorWrapper, rules: Sequence[Rule], rule_ids: dict[str, int], left_out: Iterable[int], as_of: date
) -> None:
    """Put classes, spans and the pieces to leave out into temporary tables of this connection.

    `rule_ids` gives the key of a rule's row by its code; rules without one (house defaults, proposals) have none.
    """
    classes = classes_of(rules, as_of)
    for table, columns in TABLES.items():
        cursor.execute(f"DROP TABLE IF EXISTS {table}")
        cursor.execute(f"CREATE TEMPORARY TABLE {table} ({columns})")
    insert(cursor, "due_class", [(model, use, number) for (model, use), number in classes.of_model.items()])
    insert(cursor, "due_own_class", list(classes.of_piece.items()))
    insert(cursor, "due_left_out", [(piece_id,) for piece_id in left_out])
    insert(
        cursor,
        "due_span",
        [
            (
                *(span.piece_class, span.kind.value, span.first.isoformat(), span.last.isoformat()),
                *(rule_ids.get(span.rule.code), span.rule.opens, span.rule.due, span.rule.closes),
            )
            for span in classes.spans
        ],
    )
    cursor.execute("CREATE INDEX due_class_key ON due_class (model_id, worn)")
    cursor.execute("CREATE INDEX due_own_class_key ON due_own_class (piece_id)")
    cursor.execute("CREATE INDEX due_span_key ON due_span (class, kind, first_start)")
    if connection.vendor == "postgresql":
        for table in TABLES:
            cursor.execute(f"ANALYZE {table}")


def drop_tables(cursor: CursorWrapper) -> None:
    """Take the temporary tables away again."""
    for table in TABLES:
        cursor.execute(f"DROP TABLE IF EXISTS {table}")


def parameters(as_of: date, shelf_months: int) -> dict[str, str | int | None]:
    """What the statement needs to know beside the range of pieces."""
    return {
        "as_of": as_of.isoformat(),
        "before": connection.ops.adapt_datetimefield_value(midnight_after(as_of)),
        "shelf_months": shelf_months,
        "no_start": NO_START.isoformat(),
        "mark": statement.MARK,
    }


def tune(cursor: CursorWrapper) -> None:
    """For this transaction: plans that fit a chunk, whatever the planner believes of tables it has not counted."""
    if connection.vendor == "postgresql":
        cursor.execute("SET LOCAL jit = off; SET LOCAL work_mem = '64MB'; SET LOCAL enable_nestloop = off")


@contextmanager
def room_for_indexes(cursor: CursorWrapper) -> Iterator[None]:
    """While a pass writes: SQLite keeps the pages of the due dates' indexes at hand instead of reading them again."""
    if connection.vendor != "sqlite":
        yield
        return
    cursor.execute("PRAGMA main.cache_size")
    [(before,)] = cursor.fetchall()
    cursor.execute(f"PRAGMA main.cache_size = -{CACHE_KIB}")
    try:
        yield
    finally:
        cursor.execute(f"PRAGMA main.cache_size = {int(before)}")


def pieces_with_readings_that_matter(as_of: date, limits: ServiceLimits = COMMON_PRACTICE) -> set[int]:
    """Pieces whose readings may bring an overhaul forward: one fell short, or there are three visits. One statement."""
    full = Min("readings__amplitude", filter=Q(readings__wind=Wind.FULL))
    later = Min("readings__amplitude", filter=Q(readings__wind=Wind.AFTER_24H, readings__position__in=VERTICAL))
    sheets = TimingSheet.objects.filter(taken_on__lte=as_of, readings__amplitude__isnull=False).values("piece_id")
    found = sheets.annotate(visits=Count("taken_on", distinct=True), full=full, later=later).filter(
        Q(visits__gte=FEWEST_VISITS) | Q(full__lt=limits.full_wind) | Q(later__lt=limits.vertical_24h)
    )
    return set(found.order_by().values_list("piece_id", flat=True))


def insert(cursor: CursorWrapper, table: str, rows: Sequence[tuple[str | int | None, ...]]) -> None:
    """Put rows into a temporary table."""
    if rows:
        marks = ", ".join(["%s"] * len(rows[0]))
        cursor.executemany(f"INSERT INTO {table} VALUES ({marks})", rows)  # noqa: S608  # our own names
