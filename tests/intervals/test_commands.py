"""list_due and recompute_due as outside.md promises them."""

import json
from datetime import date

import pytest
from django.core.management import CommandError, call_command

from service_center.intervals.models import DueDate
from tests.factories import PieceFactory, WatchModelFactory, history

pytestmark = pytest.mark.django_db


def listed(capsys, *arguments: str):
    call_command("list_due", *arguments, "--json")
    captured = capsys.readouterr()
    assert captured.err == ""
    return json.loads(captured.out)


def test_the_list_has_every_field_and_is_ordered_by_serial_and_kind(capsys) -> None:
    history(PieceFactory(serial="b"), "2023-03-02", code="E9")
    PieceFactory(serial="B", model=WatchModelFactory(rated_bar=None))
    found = listed(capsys, "--as-of", "2026-03-01")
    assert [(row["serial"], row["kind"]) for row in found] == [("B", "overhaul"), ("b", "overhaul"), ("b", "tightness")]
    assert found[1].pop("because")["start"] == {"on": "2023-03-02", "fact": "overhaul", "entry": "E9"}
    assert found[1] == {
        "serial": "b",
        "kind": "overhaul",
        "state": "not_yet",
        "starts_on": "2023-03-02",
        "opens_on": "2029-03-02",
        "due_on": "2030-03-02",
        "closes_on": "2031-03-02",
    }


def test_the_list_answers_for_a_day_in_the_past_from_the_facts_of_that_day(capsys) -> None:
    history(PieceFactory(serial="A"), "2023-03-02")
    [found] = listed(capsys, "--as-of", "2023-03-01", "--kind", "overhaul")
    assert (found["starts_on"], found["state"]) == ("2019-05-17", "not_yet")


def test_dates_are_null_where_no_start_is_known(capsys) -> None:
    PieceFactory(serial="A", made_on=None, sold_on=None)
    [found] = listed(capsys, "--as-of", "2026-03-01", "--kind", "overhaul")
    assert (found["state"], found["starts_on"], found["opens_on"], found["due_on"], found["closes_on"]) == (
        "no_start",
        None,
        None,
        None,
        None,
    )


def test_one_serial_lists_one_piece_and_an_empty_book_lists_nothing(capsys) -> None:
    assert listed(capsys, "--as-of", "2026-03-01") == []
    PieceFactory(serial="A")
    PieceFactory(serial="B")
    assert {row["serial"] for row in listed(capsys, "--as-of", "2026-03-01", "--serial", "B")} == {"B"}


def test_the_list_for_people_says_why(capsys) -> None:
    PieceFactory(serial="A")
    call_command("list_due", "--as-of", "2026-03-01")
    out = capsys.readouterr().out
    assert "A                    overhaul   in_window  2019-05-17  2025-05-17  2026-05-17  2027-05-17" in out
    assert "Counted from the sale on 17 May 2019" in out


@pytest.mark.parametrize("command", ["list_due", "recompute_due"])
def test_an_unknown_serial_is_unusable_input(command) -> None:
    with pytest.raises(CommandError, match="there is no piece") as refused:
        call_command(command, "--serial", "nowhere")
    assert refused.value.returncode == 2


def test_a_day_that_is_none_is_refused_by_the_name_of_its_argument() -> None:
    with pytest.raises(CommandError, match='--as-of: "2026-13-01" is not a date'):
        call_command("list_due", "--as-of", "2026-13-01")


def test_recompute_due_stores_the_book_and_counts_its_pieces(capsys) -> None:
    PieceFactory()
    PieceFactory(serial="A")
    call_command("recompute_due", "--as-of", "2026-03-01", "--json")
    done = json.loads(capsys.readouterr().out)
    assert done["pieces"] == 2
    assert done["seconds"] >= 0
    assert DueDate.objects.count() == 4
    call_command("recompute_due", "--serial", "A", "--as-of", "2026-03-01", "--json")
    assert json.loads(capsys.readouterr().out)["pieces"] == 1


def test_the_stored_dates_are_the_listed_ones(capsys) -> None:
    piece = PieceFactory(serial="A")
    history(piece, "2024-02-29", kind="tightness_check", tightness="failed")
    call_command("recompute_due", "--as-of", "2026-03-01")
    capsys.readouterr()
    for row in listed(capsys, "--as-of", "2026-03-01"):
        stored = DueDate.objects.get(piece=piece, kind=row["kind"])
        for name in ("starts_on", "opens_on", "due_on", "closes_on"):
            assert getattr(stored, name) == date.fromisoformat(row[name])
