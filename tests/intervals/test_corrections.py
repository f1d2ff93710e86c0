"""A wrong history entry is corrected by a later one that voids it, never edited."""

from datetime import date

import pytest
from django.db import IntegrityError, transaction

from service_center.book.actions import CannotVoid, add_entry, strike_entry
from service_center.book.rules import DoneBy, EntryKind, Tightness
from service_center.intervals import queries
from service_center.intervals.actions import recompute
from service_center.intervals.models import DueDate
from tests.factories import HistoryEntryFactory, PieceFactory, history

pytestmark = pytest.mark.django_db


def start(piece, as_of="2026-03-01", kind="overhaul") -> str:
    found = {due.kind: due for due in queries.due_of(piece, date.fromisoformat(as_of))}
    return str(found[kind].start.on)


def correct(entry, day: str, **changes):
    return add_entry(
        changes.pop("piece", entry.piece),
        done_on=date.fromisoformat(day),
        kind=EntryKind.OVERHAUL,
        case_opened=True,
        tightness=Tightness.PASSED,
        done_by=DoneBy.OWN,
        voids=entry,
    )


def test_the_due_date_follows_the_correction_and_both_entries_stay() -> None:
    piece = PieceFactory()
    wrong = history(piece, "2023-03-02")
    correct(wrong, "2022-03-02")
    assert start(piece) == "2022-03-02"
    recompute([piece.pk], as_of=date(2026, 3, 1))
    assert DueDate.objects.get(piece=piece, kind="overhaul").starts_on == date(2022, 3, 2)
    assert piece.history.count() == 2


def test_an_entry_that_should_never_have_been_written_is_struck_and_nothing_takes_its_place() -> None:
    piece = PieceFactory()
    strike_entry(history(piece, "2023-03-02"), reason="Belongs to another piece.", by=None)
    assert start(piece) == "2019-05-17"
    assert start(piece, kind="tightness") == "2019-05-17"


def test_a_failed_test_written_by_mistake_owes_nothing_once_it_is_struck() -> None:
    piece = PieceFactory()
    strike_entry(history(piece, "2023-03-02", kind="tightness_check", tightness="failed"), reason="", by=None)
    assert {due.kind: due.owed for due in queries.due_of(piece, date(2026, 3, 1))}["tightness"] is None


def test_before_the_day_of_the_correction_the_entry_still_counts() -> None:
    piece = PieceFactory()
    correct(history(piece, "2022-03-02"), "2023-03-02")
    assert start(piece, as_of="2023-03-01") == "2022-03-02"
    assert start(piece, as_of="2023-03-02") == "2023-03-02"


def test_a_correction_may_be_corrected_and_the_first_error_does_not_come_back() -> None:
    piece = PieceFactory()
    second = correct(history(piece, "2023-03-02"), "2022-03-02")
    correct(second, "2021-03-02")
    assert start(piece) == "2021-03-02"


def test_an_entry_is_voided_once() -> None:
    piece = PieceFactory()
    wrong = history(piece, "2023-03-02")
    correct(wrong, "2022-03-02")
    with pytest.raises(CannotVoid, match="was corrected before"):
        correct(wrong, "2021-03-02")
    with pytest.raises(IntegrityError), transaction.atomic():
        HistoryEntryFactory(piece=piece, voids=wrong)


def test_an_entry_of_another_piece_cannot_be_voided() -> None:
    with pytest.raises(CannotVoid, match="belongs to another piece"):
        correct(history(PieceFactory(), "2023-03-02"), "2022-03-02", piece=PieceFactory())
