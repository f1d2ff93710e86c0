"""The desk's list: filtered, by the page, counted, and each boutique its own."""

import csv
import io
from datetime import date, timedelta

import pytest
import time_machine
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service_center.book.rules import ServiceKind
from service_center.intervals import queries
from service_center.intervals.actions import recompute
from service_center.intervals.models import DueDate
from service_center.intervals.queries import DueFilters
from service_center.intervals.rules import Evidence, EvidenceFact, State, state_on
from service_center.measurements.rules import Wind
from tests.factories import BoutiqueFactory, HistoryEntryFactory, PieceFactory, history

pytestmark = pytest.mark.django_db
MARCH = date(2026, 3, 1)
NEAR = st.dates(date(2025, 11, 1), date(2026, 7, 1))


@st.composite
def stored_dates(draw):
    opens, due, closes = sorted(draw(st.tuples(NEAR, NEAR, NEAR)))
    kind = draw(st.sampled_from(["start", "owed", "none"]))
    held = draw(st.sampled_from(["", "", "lost", "workshop"]))
    if kind == "none":
        return {"held": held}
    if kind == "owed":
        return {"starts_on": opens, "opens_on": due, "due_on": due, "closes_on": due, "owed_since": due, "held": held}
    return {"starts_on": opens, "opens_on": opens, "due_on": due, "closes_on": closes, "held": held}


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(rows=st.lists(stored_dates(), max_size=8), as_of=NEAR)
def test_the_states_that_the_database_filters_by_are_those_of_the_rules(rows, as_of) -> None:
    DueDate.objects.all().delete()
    for row in rows:
        piece = PieceFactory()
        entry = HistoryEntryFactory(piece=piece) if "owed_since" in row else None
        fact = "sale" if "starts_on" in row else ""
        DueDate.objects.create(piece=piece, kind="overhaul", start_fact=fact, owed_entry=entry, **row)
    stored = DueDate.objects.select_related("piece", "rule", "start_entry", "owed_entry")
    for state in State:
        by_database = set(stored.filter(queries.in_state(state, as_of)).values_list("pk", flat=True))
        assert by_database == {row.pk for row in stored if state_on(as_of, queries.stored_due(row)) is state}


def pages(filters: DueFilters, limit: int) -> list[list[DueDate]]:
    found, after = [], ""
    while True:
        page = queries.due_page(filters, MARCH, after=after, limit=limit)
        found.append([row.stored for row in page.rows])
        after = page.following
        if not after:
            return found


def test_pages_by_cursor_give_every_row_once_by_the_day_due_and_those_without_a_start_last() -> None:
    for days in (0, 0, 0, 5, 9, 9):
        PieceFactory(sold_on=date(2019, 5, 17) + timedelta(days=days))
    PieceFactory(sold_on=None, made_on=None)
    recompute(None, as_of=MARCH)
    whole = [row.pk for row in pages(DueFilters(), 100)[0]]
    assert len(whole) == 14
    for limit in (1, 2, 3, 5, 13, 14):
        assert [row.pk for page in pages(DueFilters(), limit) for row in page] == whole
    days_due = [row.due_on for row in pages(DueFilters(), 100)[0]]
    assert days_due[:12] == sorted(days_due[:12])
    assert days_due[12:] == [None, None]


def test_a_row_as_stored_says_the_same_as_the_facts() -> None:
    piece = PieceFactory()
    history(piece, "2023-03-02")
    history(piece, "2024-04-01", kind="strap", tightness="failed")
    recompute(None, as_of=MARCH)
    rows = queries.due_page(DueFilters(), MARCH).rows
    assert {row.due.kind: row.due for row in rows} == {due.kind: due for due in queries.due_of(piece, MARCH)}


@pytest.fixture
def desk(signed_in):
    with time_machine.travel("2026-03-01T12:00:00Z"):
        yield signed_in("desk")


def listed(client, **asked) -> list[tuple[str, str]]:
    page = client.get("/due/", asked)
    return [(shown["row"].stored.piece.serial, shown["row"].due.kind) for shown in page.context["rows"]]


def book_of_three() -> None:
    """A is due in May; B has a test owed; C is lost and of another boutique."""
    here = BoutiqueFactory(code="HARROW")
    PieceFactory(serial="A", boutique=here, model__rated_bar=None)
    history(PieceFactory(serial="B", boutique=here), "2025-08-01", kind="repair", tightness="not_tested")
    PieceFactory(serial="C", boutique=BoutiqueFactory(code="QUAY"), model__rated_bar=None, status="lost")
    recompute(None, as_of=MARCH)


def test_the_desk_filters_by_state_kind_boutique_and_month(desk) -> None:
    book_of_three()
    assert listed(desk) == [
        ("B", "tightness"), ("A", "overhaul"), ("B", "overhaul"), ("C", "overhaul"),
    ]  # fmt: skip
    assert listed(desk, state="owed") == [("B", "tightness")]
    assert listed(desk, state="held") == [("C", "overhaul")]
    assert listed(desk, kind="tightness") == [("B", "tightness")]
    assert listed(desk, boutique="QUAY") == [("C", "overhaul")]
    assert listed(desk, month="2026-05", state="in_window") == [("A", "overhaul"), ("B", "overhaul")]
    assert listed(desk, month="2026-06") == []


def test_the_counts_follow_the_other_filters(desk) -> None:
    book_of_three()
    counts = {one["state"]: one["count"] for one in desk.get("/due/", {"kind": "overhaul"}).context["states"]}
    assert (counts["in_window"], counts["held"], counts["owed"]) == (2, 1, 0)


def test_counts_stop_at_ten_thousand(desk, monkeypatch) -> None:
    monkeypatch.setattr("service_center.intervals.queries.listing.AT_MOST", 1)
    monkeypatch.setattr("service_center.intervals.queries.AT_MOST", 1)
    book_of_three()
    page = desk.get("/due/")
    assert "more than 1</b" in page.content.decode()


def test_each_row_says_why(desk) -> None:
    book_of_three()
    assert "Counted from the sale on 17 May 2019, by the house default" in desk.get("/due/").content.decode()


def test_a_month_that_cannot_be_read_is_named_and_the_list_stays(desk) -> None:
    book_of_three()
    page = desk.get("/due/", {"month": "May"})
    assert "Write the month as 2026-05." in page.content.decode()
    assert len(page.context["rows"]) == 4


@pytest.mark.parametrize("cursor", ["nonsense", "2026-13-01~4", "~x"])
def test_a_cursor_that_nobody_gave_is_no_page(desk, cursor) -> None:
    assert desk.get("/due/", {"after": cursor}).status_code == 404


def test_a_boutique_sees_its_own_pieces_whatever_it_asks_for(signed_in) -> None:
    book_of_three()
    counter = signed_in("boutique", boutique="HARROW")
    assert {serial for serial, _kind in listed(counter)} == {"A", "B"}
    assert {serial for serial, _kind in listed(counter, boutique="QUAY")} == {"A", "B"}
    assert b"C," not in b"".join(counter.get("/due/due.csv", {"boutique": "QUAY"}).streaming_content)


def test_the_page_costs_the_same_statements_for_three_pieces_and_for_twelve(desk, django_assert_num_queries) -> None:
    book_of_three()
    desk.get("/due/")
    with django_assert_num_queries(16):
        desk.get("/due/")
    for _ in range(9):
        history(PieceFactory(), "2023-03-02")
    recompute(None, as_of=MARCH)
    with django_assert_num_queries(16):
        desk.get("/due/")


def test_the_file_for_people_holds_the_same_rows_and_no_formula(desk) -> None:
    PieceFactory(serial="A", owner__name="=1+2")
    recompute(None, as_of=MARCH)
    text = b"".join(desk.get("/due/due.csv").streaming_content).decode("utf-8-sig")
    head, *rows = csv.reader(io.StringIO(text))
    assert head[0] == "serial"
    assert [row[0] for row in rows] == ["A", "A"]
    assert {row[2] for row in rows} == {"'=1+2"}
    assert {row[4] for row in rows} == set(ServiceKind)


def test_an_overhaul_that_a_trend_moved_years_forward_stands_among_those_that_are_due(desk) -> None:
    moved = Evidence(EvidenceFact.TREND, date(2022, 1, 10), Wind.FULL, limit=220, visits=3, degrees_a_year=-20).record()
    dates = {
        "starts_on": date(2019, 1, 10),
        "opens_on": date(2022, 1, 10),
        "due_on": date(2022, 1, 10),
        "start_fact": "sale",
    }
    piece = PieceFactory()
    DueDate.objects.create(piece=piece, kind="overhaul", closes_on=date(2027, 1, 10), evidence=moved, **dates)
    keys = queries.due_page(DueFilters(state=State.DUE), MARCH)
    assert [row.stored.piece_id for row in keys.rows] == [piece.pk]
    assert queries.counts_by_state(DueFilters(), MARCH, states=[State.DUE]) == {State.DUE: 1}
