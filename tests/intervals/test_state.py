"""The state on a day, and why (due-dates.md, state on the as-of date; because)."""

import json
from datetime import date

import pytest

from service_center.book.rules import Status, Tightness
from service_center.intervals.rules import Move, because, state_on
from tests.intervals.facts import Scope, days, due, entry, overhaul, piece, rule


@pytest.mark.parametrize(
    ("as_of", "state"),
    [
        ("2025-05-16", "not_yet"),
        ("2025-05-17", "in_window"),
        ("2026-05-16", "in_window"),
        ("2026-05-17", "due"),
        ("2027-05-16", "due"),
        ("2027-05-17", "overdue"),
    ],
)
def test_each_state_begins_on_its_own_first_day(as_of, state) -> None:
    assert state_on(date.fromisoformat(as_of), due(piece(), "overhaul", as_of)) == state


@pytest.mark.parametrize("status", [Status.LOST, Status.STOLEN, Status.RETIRED])
def test_a_lost_stolen_or_retired_piece_is_held_and_keeps_its_dates(status) -> None:
    found = due(piece(status=status), "overhaul", "2026-03-01")
    assert state_on(date(2026, 3, 1), found) == "held"
    assert found.held == status
    assert days(found) == ("2025-05-17", "2026-05-17", "2027-05-17")


def test_a_piece_taken_in_is_held_until_it_is_handed_back() -> None:
    moves = (Move(date(2026, 2, 1), into_the_house=True), Move(date(2026, 2, 20), into_the_house=False))
    for as_of, held in [("2026-01-31", ""), ("2026-02-01", "workshop"), ("2026-02-19", "workshop"), ("2026-02-20", "")]:
        assert due(piece(moves=moves), "overhaul", as_of).held == held


def test_held_comes_before_no_start_and_no_start_before_owed() -> None:
    held = due(piece(sold=None, status=Status.LOST), "overhaul", "2026-03-01")
    assert state_on(date(2026, 3, 1), held) == "held"
    startless = due(piece(entry("2023-03-02", case_opened=True), sold=None), "tightness", "2026-03-01")
    assert state_on(date(2026, 3, 1), startless) == "no_start"
    assert days(startless) == ("None", "None", "None")


def test_owed_is_owed_on_the_very_day() -> None:
    found = due(piece(entry("2026-03-01", tightness=Tightness.FAILED)), "tightness", "2026-03-01")
    assert state_on(date(2026, 3, 1), found) == "owed"


def why(found, as_of="2026-03-01"):
    return because(found, date.fromisoformat(as_of))


def test_the_sentence_names_the_start_its_fact_the_rule_and_its_scope() -> None:
    rules = (rule((60, 72, 84), code="R7", scope=Scope.CALIBRE, scope_value="FH-21"),)
    found = due(piece(overhaul("2023-03-02", code="E9")), "overhaul", "2026-03-01", rules=rules)
    assert why(found).sentence == (
        "Counted from the overhaul of 2 March 2023 (entry E9), by rule “R7” for calibre FH-21 "
        "(opens after 60, due after 72, closes after 84 months)."
    )


def test_the_sentence_of_an_owed_test_says_what_happened_and_what_would_have_applied() -> None:
    found = due(piece(entry("2023-03-02", code="E9", tightness=Tightness.FAILED)), "tightness", "2026-03-01")
    assert "owed since 2 March 2023, when a test failed (entry E9); by the rule alone the day is 17 May 2020" in (
        why(found).sentence
    )


def test_the_sentence_of_a_held_piece_begins_with_the_reason() -> None:
    assert why(due(piece(status=Status.STOLEN), "overhaul", "2026-03-01")).sentence.startswith(
        "The piece is stolen, so"
    )


def test_the_sentence_without_a_start_says_what_is_missing() -> None:
    assert why(due(piece(sold=None), "overhaul", "2026-03-01")).sentence == (
        "No start is known: no overhaul, no day of sale and no day of making is on record."
    )


def test_the_record_is_the_same_reason_for_programs() -> None:
    found = due(piece(entry("2023-03-02", code="E9", case_opened=True)), "tightness", "2026-03-01")
    record = json.loads(json.dumps(why(found).record()))
    assert record.pop("sentence") == why(found).sentence
    assert record == {
        "as_of": "2026-03-01",
        "start": {"on": "2019-05-17", "fact": "sale", "entry": None},
        "rule": {
            "code": "house default",
            "scope": "house",
            "scope_value": "",
            "use": "any",
            "months": {"opens": 11, "due": 12, "closes": 15},
        },
        "owed": {"since": "2023-03-02", "entry": "E9", "fact": "opened"},
        "evidence": None,
        "held": None,
        "otherwise": {"opens_on": "2020-04-17", "due_on": "2020-05-17", "closes_on": "2020-08-17"},
    }
