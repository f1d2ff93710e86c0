"""Due dates of the whole book, worked out set-wise by the database."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from django.conf import settings
from django.db import connection, transaction
from django.db.backends.utils import CursorWrapper
from django.db.models import Max, Min

from service_center.book.models import Piece
from service_center.intervals import queries
from service_center.intervals.actions.locks import CHUNK, take_chunk
from service_center.intervals.actions.pieces import recompute_pieces
from service_center.intervals.models import IntervalRule
from service_center.intervals.queries import setwise, statement
from service_center.intervals.rules import Rule

STORED = [name for name in statement.COLUMNS if name not in {"piece_id", "kind"}]


@dataclass(slots=True)
class _Pass:
    """What one pass works with. `rules`: those that its tables were filled from."""

    upsert: str
    parameters: dict[str, str | int | None]
    rules: tuple[Rule, ...]
    left_out: set[int]
    as_of: date


def recompute_book(*, as_of: date, progress: Callable[[int], object] = lambda _pieces: None) -> int:
    """Store the due dates of every piece from the facts known on `as_of`; returns how many pieces there are.

    Chunk by chunk of 50,000 pieces, each in a transaction of its own (unless the caller has one), so that the counter
    waits for a second and not for the whole book; `progress` is told the pieces of each. Rows that stay as they are
    are not written. Pieces whose readings may bring the overhaul forward go the one-piece way afterwards.
    """
    ends = Piece.objects.aggregate(first=Min("pk"), last=Max("pk"))
    if ends["first"] is None:
        return 0
    with_evidence = setwise.pieces_with_readings_that_matter(as_of)
    with connection.cursor() as cursor, setwise.room_for_indexes(cursor):
        work = _Pass(_upsert(), setwise.parameters(as_of, settings.SHELF_MONTHS), (), with_evidence, as_of)
        count = 0
        for chunk in range(ends["first"] // CHUNK, ends["last"] // CHUNK + 1):
            done = _chunk(cursor, work, chunk)
            progress(done)
            count += done
        setwise.drop_tables(cursor)
    recompute_pieces(with_evidence, as_of=as_of)
    return count


def _rule_ids() -> dict[str, int]:
    return dict(IntervalRule.objects.values_list("code", "pk"))


@transaction.atomic
def _chunk(cursor: CursorWrapper, work: _Pass, chunk: int) -> int:
    first, last = chunk * CHUNK, (chunk + 1) * CHUNK - 1
    take_chunk(chunk)
    _keep_to_the_rules(cursor, work)
    setwise.tune(cursor)
    limits = {"first": first, "last": last}
    cursor.execute(statement.INAPPLICABLE, limits)
    cursor.execute(work.upsert, {**work.parameters, **limits})
    return Piece.objects.filter(pk__gte=first, pk__lte=last).count()


def _keep_to_the_rules(cursor: CursorWrapper, work: _Pass) -> None:
    """A rule may be changed while a pass is under way: each chunk goes by the rules of its own moment."""
    rules = queries.house_rules()
    if rules != work.rules:
        setwise.fill_tables(cursor, rules, _rule_ids(), work.left_out, work.as_of)
        work.rules = rules


def _upsert() -> str:
    new = ", ".join(f"excluded.{name}" for name in STORED)
    old = ", ".join(f"intervals_duedate.{name}" for name in STORED)
    changes = ", ".join(f"{name} = excluded.{name}" for name in STORED)
    different = "IS DISTINCT FROM" if connection.vendor == "postgresql" else "IS NOT"
    return (
        f"INSERT INTO intervals_duedate ({', '.join(statement.COLUMNS)}) {statement.due_rows(connection.vendor)} "
        f"ON CONFLICT (piece_id, kind) DO UPDATE SET {changes}, evidence = NULL "
        f"WHERE ({old}) {different} ({new}) OR intervals_duedate.evidence IS NOT NULL"
    )
