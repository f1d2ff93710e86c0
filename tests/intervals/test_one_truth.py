"""The set-wise pass, the one-piece way and an independent reading of due-dates.md give the same dates.

The independent reading (plain_reading/) was written from the page alone. Both databases run this.
"""

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from service_center.book.models import Piece
from service_center.intervals import queries
from service_center.intervals.actions import bring_to, recompute
from service_center.intervals.models import DueDate
from service_center.intervals.rules import EvidenceFact, state_on
from tests.intervals.plain_reading.due import plain_due
from tests.intervals.random_book import DAYS, LIVES, RULES, Written, write

pytestmark = pytest.mark.django_db

AS_OF = DAYS.flatmap(lambda day: st.sampled_from([day - timedelta(days=1), day, day + timedelta(days=1)]))


def stored() -> list[dict[str, Any]]:
    return list(DueDate.objects.order_by("piece__serial", "kind").values(
        "piece__serial", "kind", "starts_on", "start_fact", "start_entry", "rule", "opens_on", "due_on", "closes_on",
        "owed_since", "owed_entry", "evidence", "held", "boutique",
    ))  # fmt: skip


def as_stored(as_of: date) -> list[dict[str, Any]]:
    rows = DueDate.objects.order_by("piece__serial", "kind").select_related(
        "piece", "rule", "start_entry", "owed_entry"
    )
    return [
        {
            "serial": row.piece.serial,
            "kind": row.kind,
            "state": str(state_on(as_of, queries.stored_due(row))),
            "starts_on": row.starts_on,
            "opens_on": row.opens_on,
            "due_on": row.due_on,
            "closes_on": row.closes_on,
        }
        for row in rows
    ]


def as_read_from_the_page(written: Written, as_of: date) -> list[dict[str, Any]]:
    trends = {
        row.piece.serial: date.fromisoformat(row.evidence["on"])
        for row in DueDate.objects.filter(evidence__isnull=False).select_related("piece")
        if row.evidence["fact"] == EvidenceFact.TREND
    }
    return plain_due(
        written.book, as_of, held_serials=written.held_on(as_of), readings=written.readings, trend_days=trends
    )


@settings(max_examples=50, deadline=None)
@given(found=LIVES, house_rules=RULES, as_of=AS_OF)
def test_the_whole_book_at_once_each_piece_alone_and_the_page_read_plainly_agree(found, house_rules, as_of) -> None:
    with transaction.atomic():
        written = write(found, house_rules)
        recompute(None, as_of=as_of)
        at_once = stored()
        assert as_stored(as_of) == as_read_from_the_page(written, as_of)
        DueDate.objects.all().delete()
        recompute(list(Piece.objects.values_list("pk", flat=True)), as_of=as_of)
        assert stored() == at_once
        transaction.set_rollback(True)


@settings(max_examples=25, deadline=None)
@given(found=LIVES, house_rules=RULES, before=AS_OF, as_of=AS_OF)
def test_what_was_stored_before_leaves_no_trace_in_the_pass(found, house_rules, before, as_of) -> None:
    with transaction.atomic():
        write(found, house_rules)
        recompute(None, as_of=as_of)
        fresh = stored()
        recompute(None, as_of=before)
        recompute(None, as_of=as_of)
        assert stored() == fresh
        transaction.set_rollback(True)


@settings(max_examples=25, deadline=None)
@given(found=LIVES, house_rules=RULES, days=st.lists(AS_OF, min_size=1, max_size=3))
def test_bringing_the_book_to_a_day_gives_what_the_whole_pass_gives_that_day(found, house_rules, days) -> None:
    with transaction.atomic():
        write(found, house_rules)
        for day in days:
            bring_to(as_of=day)
        brought = stored()
        recompute(None, as_of=days[-1])
        assert stored() == brought
        transaction.set_rollback(True)
