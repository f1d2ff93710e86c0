"""Working out due dates anew, and storing them."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date

from django.conf import settings
from django.db import transaction

from service_center.book.models import HistoryEntry, Piece
from service_center.intervals import queries
from service_center.intervals.models import DueDate, IntervalRule, StoredDays
from service_center.intervals.rules import Due, due_dates

BATCH = 2_000
STORED = [
    "starts_on", "start_fact", "start_entry", "rule", "opens_on", "due_on", "closes_on",
    "owed_since", "owed_entry", "evidence", "held", "boutique",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Recomputed:
    """How many pieces were worked out."""

    pieces: int


@transaction.atomic
def recompute(piece_ids: Collection[int] | None, *, as_of: date) -> Recomputed:
    """Store the due dates of some pieces, or of the whole book (None), from the facts known on `as_of`.

    A constant number of statements for each batch of pieces; rows of kinds that no longer apply go.
    """
    _note_days(as_of, whole_book=piece_ids is None)
    count = 0
    rules = queries.house_rules()
    rule_ids = dict(IntervalRule.objects.values_list("code", "pk"))
    for batch in _batches(piece_ids):
        facts = queries.facts_of(batch)
        due = {pk: due_dates(piece, rules, as_of, shelf_months=settings.SHELF_MONTHS) for pk, piece in facts.items()}
        _store(due, rule_ids)
        count += len(facts)
    return Recomputed(pieces=count)


@transaction.atomic
def bring_to(*, as_of: date) -> Recomputed:
    """Make every stored due date that of one day: facts dated after it are left out, those dated up to it count.

    Only pieces with a fact dated between the days of the stored rows and this one are worked out anew; the whole
    book where nothing is stored yet, or where a rule that covers running intervals comes into force between.
    """
    stored = StoredDays.objects.first()
    if stored is None:
        return recompute(None, as_of=as_of)
    first, last = min(stored.first_day, as_of), max(stored.last_day, as_of)
    if first == last:
        return Recomputed(pieces=0)
    if IntervalRule.objects.filter(covers_running=True, in_force_from__gt=first, in_force_from__lte=last).exists():
        return recompute(None, as_of=as_of)
    done = recompute(queries.pieces_with_facts_between(first, last), as_of=as_of)
    StoredDays.objects.update(first_day=as_of, last_day=as_of)
    return done


def _note_days(as_of: date, *, whole_book: bool) -> None:
    if whole_book:
        StoredDays.objects.update_or_create(pk=1, defaults={"first_day": as_of, "last_day": as_of})
        return
    StoredDays.objects.filter(first_day__gt=as_of).update(first_day=as_of)
    StoredDays.objects.filter(last_day__lt=as_of).update(last_day=as_of)


def _batches(piece_ids: Collection[int] | None) -> Iterator[list[int]]:
    if piece_ids is not None:
        ids = sorted(piece_ids)
        yield from (ids[at : at + BATCH] for at in range(0, len(ids), BATCH))
        return
    last = 0
    while batch := list(Piece.objects.filter(pk__gt=last).order_by("pk").values_list("pk", flat=True)[:BATCH]):
        yield batch
        last = batch[-1]


def _store(due: dict[int, list[Due]], rule_ids: dict[str, int]) -> None:
    codes = {
        code
        for found in due.values()
        for one in found
        for code in (one.start and one.start.entry, one.owed and one.owed.entry)
        if code
    }
    entry_ids = dict(HistoryEntry.objects.filter(code__in=codes).values_list("code", "pk")) if codes else {}
    boutiques = dict(Piece.objects.filter(pk__in=due).values_list("pk", "boutique_id"))
    rows = [
        DueDate(
            piece_id=pk,
            kind=one.kind.value,
            starts_on=one.start.on if one.start else None,
            start_fact=one.start.fact.value if one.start else "",
            start_entry_id=entry_ids.get(one.start.entry or "") if one.start else None,
            rule_id=rule_ids.get(one.rule.code),
            opens_on=one.opens_on,
            due_on=one.due_on,
            closes_on=one.closes_on,
            owed_since=one.owed_since,
            owed_entry_id=entry_ids.get(one.owed.entry) if one.owed else None,
            evidence=one.evidence.record() if one.evidence else None,
            held=one.held,
            boutique_id=boutiques[pk],
        )
        for pk, found in due.items()
        for one in found
    ]
    kept = {(row.piece_id, row.kind) for row in rows}
    gone = [
        pk for pk, piece_id, kind in DueDate.objects.filter(piece_id__in=due).values_list("pk", "piece_id", "kind")
        if (piece_id, kind) not in kept
    ]  # fmt: skip
    DueDate.objects.filter(pk__in=gone).delete()
    DueDate.objects.bulk_create(
        rows, update_conflicts=True, unique_fields=["piece", "kind"], update_fields=STORED, batch_size=1_000
    )
