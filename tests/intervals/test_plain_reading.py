"""The plain reading checked by hand: every expected day below was counted on a calendar from the page's own words."""

import ast
import sys
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from tests.intervals import plain_reading
from tests.intervals.plain_reading.book import Book, Reading, Row, ServiceLimits, add_months
from tests.intervals.plain_reading.due import plain_due


def day(text: str) -> date:
    return date.fromisoformat(text)


def a_book(*history: Row, rules: tuple[Row, ...] = (), rated_bar: str = "10", **piece: str) -> Book:
    """One piece, S1, of the model M1 with the calibre C1."""
    return {
        "models": [{"reference": "M1", "calibre": "C1", "rated_bar": rated_bar}],
        "pieces": [{"serial": "S1", "reference": "M1", "use": "everyday", "status": "in_use"} | piece],
        "history": list(history),
        "rules": list(rules),
    }


def an_entry(done_on: str, **columns: str) -> Row:
    usual = {"kind": "repair", "case_opened": "no", "tightness": "not_tested", "done_by": "own", "accepted": "no"}
    return {"entry": done_on, "serial": "S1", "done_on": done_on} | usual | columns


def a_rule(in_force_from: str, months: str, **columns: str) -> Row:
    opens, due, closes = months.split()
    usual = {"kind": "overhaul", "scope": "house", "scope_value": "", "use": "any", "covers_running": "no"}
    return {
        "rule": in_force_from + months,
        "opens_months": opens,
        "due_months": due,
        "closes_months": closes,
        "in_force_from": in_force_from,
    } | (usual | columns)


def the_row(book: Book, as_of: str, kind: str, **options: Any) -> dict[str, Any] | None:
    rows = [row for row in plain_due(book, day(as_of), **options) if row["kind"] == kind]
    return rows[0] if rows else None


def short(row: dict[str, Any] | None) -> str | None:
    """State, start, opens, due and closes in one line."""
    if row is None:
        return None
    return " ".join([row["state"], *(str(row[key] or "-") for key in ("starts_on", "opens_on", "due_on", "closes_on"))])


def overhaul(book: Book, as_of: str, **options: Any) -> str | None:
    return short(the_row(book, as_of, "overhaul", **options))


def tightness(book: Book, as_of: str, **options: Any) -> str | None:
    return short(the_row(book, as_of, "tightness", **options))


def test_it_imports_nothing_but_itself_and_the_standard_library() -> None:
    files = sorted(Path(plain_reading.__file__).parent.glob("*.py"))
    nodes = [node for file in files for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))]
    imported = {alias.name for node in nodes if isinstance(node, ast.Import) for alias in node.names}
    # A relative import keeps its dots, so that it is neither of the two.
    imported |= {"." * node.level + (node.module or "") for node in nodes if isinstance(node, ast.ImportFrom)}
    own = {f"{plain_reading.__name__}.{file.stem}" for file in files}
    assert len(files) > 3
    assert {name.split(".")[0] for name in imported - own} <= sys.stdlib_module_names


@pytest.mark.parametrize(
    ("start", "months", "expected"),
    [
        ("2024-02-29", 12, "2025-02-28"),
        ("2023-08-31", 6, "2024-02-29"),
        ("2024-08-31", 6, "2025-02-28"),
        ("2024-02-29", 48, "2028-02-29"),  # month by month would have lost the 29th
        ("2024-01-31", 2, "2024-03-31"),  # month by month would give 29 March
        ("2024-01-31", 1, "2024-02-29"),
        ("2023-12-31", 0, "2023-12-31"),
        ("2023-12-15", 1, "2024-01-15"),
        ("2023-01-15", 11, "2023-12-15"),
        ("1896-02-29", 48, "1900-02-28"),  # 1900 had no 29 February
    ],
)
def test_months_are_added_in_one_step(start: str, months: int, expected: str) -> None:
    assert add_months(day(start), months) == day(expected)


@pytest.mark.parametrize(
    ("as_of", "state"),
    [
        ("2022-02-27", "not_yet"),
        ("2022-02-28", "in_window"),
        ("2023-02-27", "in_window"),
        ("2023-02-28", "due"),
        ("2024-02-28", "due"),
        ("2024-02-29", "overdue"),
    ],
)
def test_the_house_defaults_of_the_overhaul_and_the_edges_of_each_state(as_of: str, state: str) -> None:
    """72, 84 and 96 months after 29 February 2016: 2022 and 2023 have no such day, 2024 has."""
    assert overhaul(a_book(sold_on="2016-02-29"), as_of) == f"{state} 2016-02-29 2022-02-28 2023-02-28 2024-02-29"


def test_the_house_defaults_of_tightness_by_use() -> None:
    assert (
        tightness(a_book(sold_on="2023-08-31"), "2024-08-01") == "in_window 2023-08-31 2024-07-31 2024-08-31 2024-11-30"
    )
    assert (
        tightness(a_book(sold_on="2023-08-31", use="in_water"), "2024-02-29")
        == "due 2023-08-31 2024-01-31 2024-02-29 2024-05-31"
    )
    unknown_use = a_book(sold_on="2023-08-31", use="")
    assert tightness(unknown_use, "2024-11-30") == "overdue 2023-08-31 2024-07-31 2024-08-31 2024-11-30"


@pytest.mark.parametrize(
    ("made_on", "sold_on", "start"),
    [
        ("2010-03-31", "2013-03-31", "2013-03-31"),  # exactly the allowance: the sale
        ("2010-03-31", "2013-04-01", "2013-03-31"),  # a day longer: making plus the allowance
        ("2010-03-31", "2012-01-05", "2012-01-05"),
        ("2012-02-29", "2019-01-01", "2015-02-28"),
        ("", "2019-01-01", "2019-01-01"),
        ("2012-02-29", "", "2012-02-29"),
        ("2012-02-29", "2019-06-02", "2012-02-29"),  # not sold yet on the as-of date
    ],
)
def test_oil_ages_in_stock(made_on: str, sold_on: str, start: str) -> None:
    row = the_row(a_book(made_on=made_on, sold_on=sold_on), "2019-06-01", "overhaul")
    assert row is not None
    assert row["starts_on"] == day(start)


def test_the_shelf_allowance_is_the_houses_and_not_for_tightness() -> None:
    book = a_book(made_on="2012-02-29", sold_on="2019-01-01")
    assert overhaul(book, "2019-06-01", shelf_months=12) == "in_window 2013-02-28 2019-02-28 2020-02-28 2021-02-28"
    assert tightness(book, "2019-06-01") == "not_yet 2019-01-01 2019-12-01 2020-01-01 2020-04-01"


def test_only_our_own_or_accepted_overhauls_start_anew_and_only_from_their_day() -> None:
    book = a_book(
        an_entry("2014-05-10", kind="overhaul"),
        an_entry("2015-05-10", kind="overhaul", done_by="outside", accepted="yes"),
        an_entry("2016-05-10", kind="overhaul", done_by="outside", accepted="no"),
        sold_on="2008-01-01",
    )
    assert overhaul(book, "2020-01-01") == "not_yet 2015-05-10 2021-05-10 2022-05-10 2023-05-10"
    assert overhaul(book, "2015-05-10") == "not_yet 2015-05-10 2021-05-10 2022-05-10 2023-05-10"
    assert overhaul(book, "2015-05-09") == "not_yet 2014-05-10 2020-05-10 2021-05-10 2022-05-10"
    assert overhaul(book, "2014-05-09") == "in_window 2008-01-01 2014-01-01 2015-01-01 2016-01-01"


def test_nothing_known_is_no_start_and_a_held_piece_is_held_first_and_keeps_its_dates() -> None:
    assert overhaul(a_book(), "2024-01-01") == "no_start - - - -"
    assert tightness(a_book(an_entry("2020-01-01", case_opened="yes")), "2024-01-01") == "no_start - - - -"
    assert overhaul(a_book(status="lost"), "2024-01-01") == "held - - - -"
    sold = a_book(sold_on="2020-01-01")
    assert (
        overhaul(sold, "2024-01-01", held_serials=frozenset({"S1"}))
        == "held 2020-01-01 2026-01-01 2027-01-01 2028-01-01"
    )
    opened = a_book(an_entry("2020-05-05", case_opened="yes"), sold_on="2020-01-01", status="stolen")
    assert tightness(opened, "2024-01-01") == "held 2020-01-01 2020-05-05 2020-05-05 2020-05-05"


def test_a_model_that_is_not_rated_has_no_tightness() -> None:
    assert [row["kind"] for row in plain_due(a_book(sold_on="2020-01-01", rated_bar=""), day("2024-01-01"))] == [
        "overhaul"
    ]


@pytest.mark.parametrize(
    ("entry", "expected"),
    [
        # Opened with no pass, by anyone, accepted or not; strictly later than the start.
        (an_entry("2020-06-02", case_opened="yes"), "owed 2020-06-01 2020-06-02 2020-06-02 2020-06-02"),
        (
            an_entry("2020-06-02", case_opened="yes", done_by="outside"),
            "owed 2020-06-01 2020-06-02 2020-06-02 2020-06-02",
        ),
        (
            an_entry("2020-06-02", case_opened="yes", done_by="outside", accepted="yes"),
            "owed 2020-06-01 2020-06-02 2020-06-02 2020-06-02",
        ),
        (an_entry("2020-06-01", case_opened="yes"), "not_yet 2020-06-01 2021-05-01 2021-06-01 2021-09-01"),
        # A failed test, even with the case closed.
        (
            an_entry("2020-06-02", tightness="failed", done_by="outside"),
            "owed 2020-06-01 2020-06-02 2020-06-02 2020-06-02",
        ),
        (an_entry("2020-06-01", tightness="failed"), "not_yet 2020-06-01 2021-05-01 2021-06-01 2021-09-01"),
        # A pass from outside that is not accepted counts as no pass: nothing by itself, owed if the case was opened.
        (
            an_entry("2020-06-02", tightness="passed", done_by="outside"),
            "not_yet 2020-06-01 2021-05-01 2021-06-01 2021-09-01",
        ),
        (
            an_entry("2020-06-02", tightness="passed", done_by="outside", case_opened="yes"),
            "owed 2020-06-01 2020-06-02 2020-06-02 2020-06-02",
        ),
        # A pass that counts is the new start, whatever was done.
        (
            an_entry("2020-06-02", tightness="passed", done_by="outside", accepted="yes", case_opened="yes"),
            "not_yet 2020-06-02 2021-05-02 2021-06-02 2021-09-02",
        ),
        # Tomorrow's opening does not exist yet.
        (an_entry("2020-07-02", case_opened="yes"), "not_yet 2020-06-01 2021-05-01 2021-06-01 2021-09-01"),
        (an_entry("2020-07-01", case_opened="yes"), "owed 2020-06-01 2020-07-01 2020-07-01 2020-07-01"),
    ],
)
def test_when_a_test_is_owed(entry: Row, expected: str) -> None:
    passed = an_entry("2020-06-01", kind="overhaul", case_opened="yes", tightness="passed")
    assert tightness(a_book(passed, entry, sold_on="2015-01-01"), "2020-07-01") == expected


def test_owed_since_the_earliest_and_settled_by_a_pass_on_the_same_day() -> None:
    first = an_entry("2020-03-01", kind="battery", case_opened="yes", done_by="outside")
    second = an_entry("2020-04-01", tightness="failed")
    settled = an_entry("2020-04-01", entry="pass", kind="tightness_check", tightness="passed")
    assert (
        tightness(a_book(second, first, sold_on="2020-01-01"), "2020-05-01")
        == "owed 2020-01-01 2020-03-01 2020-03-01 2020-03-01"
    )
    assert (
        tightness(a_book(second, first, settled, sold_on="2020-01-01"), "2020-05-01")
        == "not_yet 2020-04-01 2021-03-01 2021-04-01 2021-07-01"
    )


@pytest.mark.parametrize(
    ("rules", "due_on"),
    [
        # The narrower scope wins over use, and use over the later day.
        ([a_rule("2000-01-01", "1 2 3", use="everyday"), a_rule("2000-01-01", "1 4 5", scope="calibre", scope_value="C1")], "2020-05-01"),
        ([a_rule("2000-01-01", "1 2 3", scope="model", scope_value="M1"), a_rule("2001-01-01", "1 4 5", scope="calibre", scope_value="C1")], "2020-03-01"),
        ([a_rule("2000-01-01", "1 2 3", scope="model", scope_value="M1"), a_rule("2000-01-01", "1 4 5", scope="piece", scope_value="S1")], "2020-05-01"),
        ([a_rule("2000-01-01", "1 2 3", use="everyday"), a_rule("2001-01-01", "1 4 5")], "2020-03-01"),
        ([a_rule("2000-01-01", "1 2 3", use="in_water"), a_rule("2000-01-01", "1 4 5")], "2020-05-01"),
        # In force on the start itself counts; a day later does not, unless it covers running intervals.
        ([a_rule("2000-01-01", "1 2 3"), a_rule("2020-01-01", "1 4 5")], "2020-05-01"),
        ([a_rule("2000-01-01", "1 2 3"), a_rule("2020-01-02", "1 4 5")], "2020-03-01"),
        ([a_rule("2000-01-01", "1 2 3"), a_rule("2020-06-01", "1 4 5", covers_running="yes")], "2020-05-01"),
        ([a_rule("2000-01-01", "1 2 3"), a_rule("2020-06-02", "1 4 5", covers_running="yes")], "2020-03-01"),
        # An eligible house rule wins over a narrower one that is not eligible.
        ([a_rule("2000-01-01", "1 2 3"), a_rule("2020-01-02", "1 4 5", scope="piece", scope_value="S1")], "2020-03-01"),
        # The start lies before every rule: the same order of scope and use, and then the earliest.
        ([a_rule("2020-02-01", "1 2 3"), a_rule("2020-03-01", "1 4 5")], "2020-03-01"),
        ([a_rule("2020-02-01", "1 2 3"), a_rule("2020-04-01", "1 4 5", scope="calibre", scope_value="C1"), a_rule("2020-03-01", "1 6 7", scope="calibre", scope_value="C1")], "2020-07-01"),
        ([a_rule("2020-02-01", "1 2 3"), a_rule("2020-03-01", "1 4 5", use="everyday")], "2020-05-01"),
        # Another calibre's rule, though in force at the start, is no rule of this piece.
        ([a_rule("2000-01-01", "1 2 3", scope="calibre", scope_value="C2"), a_rule("2020-03-01", "1 4 5")], "2020-05-01"),
        # No rule matches at all: no row.
        ([a_rule("2000-01-01", "1 2 3", scope="calibre", scope_value="C2")], None),
        ([a_rule("2000-01-01", "1 2 3", use="in_water")], None),
        ([a_rule("2000-01-01", "1 2 3", kind="tightness")], None),
    ],
)  # fmt: skip
def test_which_rule(rules: list[Row], due_on: str | None) -> None:
    row = the_row(a_book(sold_on="2020-01-01", rules=tuple(rules)), "2020-06-01", "overhaul")
    assert (row and row["due_on"]) == (due_on and day(due_on))


def test_without_a_start_a_row_needs_a_matching_rule_all_the_same() -> None:
    assert plain_due(a_book(rules=(a_rule("2000-01-01", "1 2 3", use="in_water"),)), day("2024-01-01")) == []
    assert overhaul(a_book(rules=(a_rule("2030-01-01", "1 2 3"),)), "2024-01-01") == "no_start - - - -"


def test_an_entry_voids_another_from_its_own_day_on() -> None:
    wrong = an_entry("2018-03-01", entry="E1", kind="overhaul")
    correction = an_entry("2018-06-01", entry="E2", kind="", voids="E1")
    replaced = an_entry("2018-06-01", entry="E2", kind="overhaul", voids="E1")
    voided_again = an_entry("2018-09-01", entry="E3", kind="", voids="E2")
    before = "not_yet 2018-03-01 2024-03-01 2025-03-01 2026-03-01"
    without = "overdue 2000-01-01 2006-01-01 2007-01-01 2008-01-01"
    assert overhaul(a_book(wrong, correction, sold_on="2000-01-01"), "2018-05-31") == before
    assert overhaul(a_book(wrong, correction, sold_on="2000-01-01"), "2018-06-01") == without
    assert (
        overhaul(a_book(wrong, replaced, sold_on="2000-01-01"), "2018-06-01")
        == "not_yet 2018-06-01 2024-06-01 2025-06-01 2026-06-01"
    )
    assert overhaul(a_book(wrong, correction, voided_again, sold_on="2000-01-01"), "2018-09-01") == without


@pytest.mark.parametrize(
    ("reading", "expected"),
    [
        (Reading(day("2021-05-05"), "24h", "6H", 189.9), "owed 2020-01-01 2021-05-05 2021-05-05 2021-05-05"),
        (Reading(day("2021-05-05"), "24h", "6H", 190), "not_yet 2020-01-01 2026-01-01 2027-01-01 2028-01-01"),
        (Reading(day("2021-05-05"), "24h", "CH", 150), "not_yet 2020-01-01 2026-01-01 2027-01-01 2028-01-01"),
        (Reading(day("2021-05-05"), "full", "CH", 219.9), "owed 2020-01-01 2021-05-05 2021-05-05 2021-05-05"),
        (Reading(day("2021-05-05"), "full", "9H", 220), "not_yet 2020-01-01 2026-01-01 2027-01-01 2028-01-01"),
        (Reading(day("2020-01-01"), "full", "9H", 100), "not_yet 2020-01-01 2026-01-01 2027-01-01 2028-01-01"),
        (Reading(day("2021-06-02"), "full", "9H", 100), "not_yet 2020-01-01 2026-01-01 2027-01-01 2028-01-01"),
        (Reading(day("2021-05-05"), "full", "9H", None), "not_yet 2020-01-01 2026-01-01 2027-01-01 2028-01-01"),
    ],
)
def test_a_reading_that_falls_short_makes_the_overhaul_owed(reading: Reading, expected: str) -> None:
    assert overhaul(a_book(sold_on="2020-01-01"), "2021-06-01", readings={"S1": [reading]}) == expected


def test_evidence_never_pushes_back_and_a_calibre_has_limits_of_its_own() -> None:
    reading = Reading(day("2026-06-01"), "full", "CH", 219)
    book = a_book(sold_on="2020-01-01")
    assert (
        overhaul(book, "2026-07-01", readings={"S1": [reading]}) == "owed 2020-01-01 2026-01-01 2026-06-01 2026-06-01"
    )
    lower = {"C1": ServiceLimits(amplitude_full_wind=200)}
    assert (
        overhaul(book, "2026-07-01", readings={"S1": [reading]}, limits=lower)
        == "in_window 2020-01-01 2026-01-01 2027-01-01 2028-01-01"
    )


@pytest.mark.parametrize(
    ("trend_day", "expected"),
    [
        ("2025-04-01", "not_yet 2020-01-01 2025-04-01 2025-04-01 2028-01-01"),
        ("2026-04-01", "not_yet 2020-01-01 2026-01-01 2026-04-01 2028-01-01"),
        ("2027-01-01", "not_yet 2020-01-01 2026-01-01 2027-01-01 2028-01-01"),
        ("2029-01-01", "not_yet 2020-01-01 2026-01-01 2027-01-01 2028-01-01"),
    ],
)
def test_a_trend_moves_the_due_date_forward_only(trend_day: str, expected: str) -> None:
    assert overhaul(a_book(sold_on="2020-01-01"), "2024-01-01", trend_days={"S1": day(trend_day)}) == expected


def test_rows_are_ordered_by_serial_and_kind() -> None:
    book: Book = {
        "models": [{"reference": "M1", "calibre": "C1", "rated_bar": "3"}],
        "pieces": [{"serial": serial, "reference": "M1", "sold_on": "2020-01-01"} for serial in ("B2", "A10", "A9")],
    }
    rows = plain_due(book, day("2020-01-01"))
    assert [(row["serial"], row["kind"]) for row in rows] == [
        (serial, kind) for serial in ("A10", "A9", "B2") for kind in ("overhaul", "tightness")
    ]
    assert plain_due({}, day("2020-01-01")) == []
