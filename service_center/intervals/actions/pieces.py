"""Due dates of some pieces, worked out one by one from their facts, and stored."""

from collections.abc import Collection
from datetime import date

from django.conf import settings
from django.db import connection, transaction

from service_center.book.models import HistoryEntry, Piece
from service_center.intervals import queries
from service_center.intervals.actions.locks import share_chunks
from service_center.intervals.models import DueDate, IntervalRule
from service_center.intervals.rules import Due, due_dates

STORED = [
    "starts_on", "start_fact", "start_entry", "rule", "opens_on", "due_on", "closes_on",
    "owed_since", "owed_entry", "evidence", "held", "boutique",
]  # fmt: skip


@transaction.atomic(savepoint=False)
def recompute_pieces(piece_ids: Collection[int], *, as_of: date) -> int:
    """Store the due dates of some pieces from the facts known on `as_of`; returns how many pieces there were.

    A constant number of statements for every 2,000 pieces; rows of kinds that no longer apply go. Whoever records
    another fact of a piece meanwhile waits, so that the later of the two sees the facts of both.
    """
    ids = sorted(piece_ids)
    share_chunks(ids)
    rules = queries.house_rules()
    rule_ids = dict(IntervalRule.objects.values_list("code", "pk"))
    count = 0
    for at in range(0, len(ids), queries.BATCH):
        batch = ids[at : at + queries.BATCH]
        _lock(batch)
        facts = queries.facts_of(batch)
        due = {pk: due_dates(piece, rules, as_of, shelf_months=settings.SHELF_MONTHS) for pk, piece in facts.items()}
        _store(due, rule_ids)
        count += len(facts)
    return count


def _lock(ids: list[int]) -> None:
    if connection.features.has_select_for_update:
        list(Piece.objects.filter(pk__in=ids).order_by("pk").select_for_update(no_key=True).values_list("pk"))


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
