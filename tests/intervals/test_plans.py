"""The desk's list and its counts stop early, whatever is asked for: the databases' own plans, on a made book."""

import json
from collections.abc import Callable, Iterator
from datetime import date
from itertools import product
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from service_center.book.models import Boutique
from service_center.book.rules import ServiceKind
from service_center.demo import large_book
from service_center.intervals import queries
from service_center.intervals.actions import recompute
from service_center.intervals.models import DueDate
from service_center.intervals.queries import DueFilters
from service_center.intervals.rules import State

TODAY = date(2026, 6, 30)
PIECES = 20_000
COUNTED = 100  # counts stop here, as they stop at 10,000 in a book a hundred times as large


def what_the_desk_asks(boutique: str) -> Iterator[tuple[str, Callable[[], object]]]:
    """Every list and every count of the page, with the filters one by one and together."""
    kinds, boutiques, months = [None, *ServiceKind], [None, boutique], [None, date(2026, 9, 1)]
    for state, kind, place, month in product([None, *State], kinds, boutiques, months):
        filters = DueFilters(state=state, kind=kind, boutique=place, month=month)
        yield f"list of {filters}", lambda asked=filters: queries.due_page(asked, TODAY)
        if state:
            yield (
                f"count of {filters}",
                lambda asked=filters: queries.counts_by_state(asked, TODAY, states=[asked.state]),
            )


def scans(statement: str) -> list[str]:
    """What a statement does with the due dates beyond what an index leads it to, by the database's own account."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(f"EXPLAIN QUERY PLAN {statement}")
            steps = [row[3] for row in cursor.fetchall()]
            return [step for step in steps if step.startswith("SCAN intervals_duedate") and "INDEX" not in step]
        cursor.execute(f"EXPLAIN (ANALYZE, FORMAT JSON) {statement}")
        [(plan,)] = cursor.fetchall()
        top = (json.loads(plan) if isinstance(plan, str) else plan)[0]["Plan"]
        return [
            f"{node['Node Type']} looked at {looked_at(node):,.0f} rows"
            for node in nodes(top)
            if node.get("Relation Name") == "intervals_duedate" and looked_at(node) > DueDate.objects.count() / 4
        ]


def nodes(plan: dict[str, Any]) -> Iterator[dict[str, Any]]:
    yield plan
    for child in plan.get("Plans", []):
        yield from nodes(child)


def looked_at(node: dict[str, Any]) -> float:
    return float(node["Actual Loops"] * (node["Actual Rows"] + node.get("Rows Removed by Filter", 0)))


@pytest.mark.django_db
def test_no_list_and_no_count_of_the_desk_reads_all_due_dates(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("service_center.intervals.queries.listing.AT_MOST", COUNTED)
    large_book.make(PIECES, until=TODAY, seed=7, progress=lambda _pieces: None)
    recompute(None, as_of=TODAY)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    assert scans("SELECT * FROM intervals_duedate WHERE held || 'x' = 'lostx'")  # what a full scan looks like
    for asked, ask in what_the_desk_asks(Boutique.objects.earliest("pk").code):
        with CaptureQueriesContext(connection) as statements:
            ask()
        assert len(statements) <= 5, asked
        for one in statements.captured_queries:
            assert scans(one["sql"]) == [], f"{asked}\n{one['sql']}"
