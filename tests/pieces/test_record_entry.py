"""Recording work starts new intervals and ends the letters of the old one."""

from collections.abc import Callable
from datetime import date
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from service_center.access.models import Trail
from service_center.book.models import HistoryEntry, Piece
from service_center.book.rules import DoneBy, EntryKind, Tightness
from service_center.intervals.models import DueDate
from service_center.letters.models import Letter
from service_center.pieces.actions import record_entry
from tests.factories import PieceFactory, StaffFactory, history
from tests.pieces.conftest import TODAY

pytestmark = pytest.mark.django_db


def record(piece: Piece, **changes: Any) -> HistoryEntry:
    deed: dict[str, Any] = {
        "done_on": TODAY,
        "kind": EntryKind.OVERHAUL,
        "case_opened": True,
        "tightness": Tightness.PASSED,
        "done_by": DoneBy.OWN,
        "accepted": None,
        "note": "",
        "by": StaffFactory(role="watchmaker"),
        "as_of": TODAY,
    }
    return record_entry(piece, **deed | changes)


def due(piece: Piece, kind: str = "overhaul") -> DueDate:
    return DueDate.objects.get(piece=piece, kind=kind)


def test_an_overhaul_starts_both_new_intervals(piece: Piece) -> None:
    record(piece)
    assert due(piece).due_on == date(2033, 3, 10)
    assert due(piece, "tightness").due_on == date(2027, 3, 10)


def test_an_overhaul_ends_the_letter_about_the_old_interval(piece: Piece, letter_about: Callable[..., Letter]) -> None:
    letter = letter_about()
    record(piece)
    letter.refresh_from_db()
    assert letter.state == "ended"
    assert letter.reminders.get().ended_on == TODAY


def test_a_letter_that_went_out_stays_what_it_is(piece: Piece, letter_about: Callable[..., Letter]) -> None:
    letter = letter_about(state="sent")
    record(piece)
    letter.refresh_from_db()
    assert (letter.state, letter.reminders.get().ended_on) == ("sent", None)


def test_a_strap_ends_no_letter_and_starts_no_interval(piece: Piece, letter_about: Callable[..., Letter]) -> None:
    letter = letter_about()
    record(piece, kind=EntryKind.STRAP, case_opened=False, tightness=Tightness.NOT_TESTED)
    letter.refresh_from_db()
    assert (letter.state, due(piece).due_on) == ("waiting", date(2026, 5, 17))


def test_an_opened_case_without_a_test_owes_one_at_once(piece: Piece) -> None:
    record(piece, kind=EntryKind.BATTERY, tightness=Tightness.NOT_TESTED)
    assert due(piece, "tightness").owed_since == TODAY


def test_work_outside_starts_nothing_until_the_desk_accepts_it(piece: Piece) -> None:
    record(piece, done_by=DoneBy.OUTSIDE, accepted=False)
    assert due(piece).due_on == date(2026, 5, 17)
    record(piece, done_by=DoneBy.OUTSIDE, accepted=True)
    assert due(piece).due_on == date(2033, 3, 10)
    assert HistoryEntry.objects.filter(piece=piece).count() == 2


def test_a_form_sent_twice_is_one_entry(piece: Piece) -> None:
    key = uuid4()
    assert record(piece, form_key=key) == record(piece, form_key=key)
    assert HistoryEntry.objects.filter(piece=piece).count() == 1
    assert Trail.objects.filter(deed="record_entry").count() == 1


def test_a_form_used_for_one_piece_records_nothing_for_another(piece: Piece, signed_in: Callable[..., Client]) -> None:
    other, sent = PieceFactory(), form()
    desk = signed_in("desk")
    desk.post(f"/pieces/{piece.pk}/entries/", sent)
    answer = desk.post(f"/pieces/{other.pk}/entries/", sent)
    assert "This form was used for another piece." in answer.content.decode()
    assert not HistoryEntry.objects.filter(piece=other).exists()


def test_the_trail_says_who_recorded_what_but_not_the_free_text(piece: Piece) -> None:
    entry = record(piece, note="Said Ada Winter.")
    row = Trail.objects.get(deed="record_entry")
    assert (row.subject, row.after["entry"], row.by) == (f"piece:{piece.serial}", entry.code, entry.recorded_by)
    assert "Winter" not in str(row.after)


def form(**changes: str) -> dict[str, str]:
    return {
        "form_key": str(uuid4()),
        "kind": "overhaul",
        "done_on": "2026-03-10",
        "done_by": "own",
        "case_opened": "yes",
        "tightness": "passed",
        "note": "",
        **changes,
    }


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"done_on": "2026-03-11"}, "That day is still to come."),
        ({"done_on": "2018-11-04"}, "The piece was made after that day."),
        ({"done_on": "31.02.2026"}, "Enter a valid date."),
        ({"case_opened": "no"}, "That cannot be done without opening the case."),
        ({"case_opened": ""}, "Of our own work we know it: yes or no?"),
        ({"accepted": "on"}, "Work of our own workshop needs no document."),
        ({"kind": "polish"}, "Select a valid choice."),
        ({"form_key": "x"}, "Enter a valid UUID."),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason_and_nothing_is_written(
    piece: Piece, signed_in: Callable[..., Client], changes: dict[str, str], said: str
) -> None:
    response = signed_in("desk").post(f"/pieces/{piece.pk}/entries/", form(note="Crown renewed.", **changes))
    assert said in response.content.decode()
    assert "Crown renewed." in response.content.decode(), "what was typed is kept"
    assert not HistoryEntry.objects.filter(piece=piece).exists()


def test_the_desk_accepts_an_outside_overhaul_from_the_piece_s_page(
    piece: Piece, signed_in: Callable[..., Client]
) -> None:
    told = history(piece, "2026-02-02", done_by="outside", accepted=False)
    desk, address = signed_in("desk"), f"/pieces/{piece.pk}/entries/?corrects={told.code}&accept"
    assert address.replace("&", "&amp;") in desk.get(f"/pieces/{piece.pk}/").content.decode()
    begun = desk.get(address).context["form"].initial
    assert (begun["done_on"], begun["done_by"], begun["accepted"]) == (date(2026, 2, 2), "outside", True)
    desk.post(address, form(done_on="2026-02-02", done_by="outside", accepted="on", corrects=told.code, why="Seen."))
    assert due(piece).starts_on == date(2026, 2, 2)
    told.refresh_from_db()
    assert (told.accepted, told.corrections.get().accepted) == (False, True), "a new entry, the old one untouched"
    assert "Accept it" not in desk.get(f"/pieces/{piece.pk}/").content.decode()


def test_a_wrong_day_is_corrected_by_a_later_entry(piece: Piece, signed_in: Callable[..., Client]) -> None:
    wrong = record(piece, done_on=date(2026, 3, 1))
    desk = signed_in("desk")
    desk.post(f"/pieces/{piece.pk}/entries/", form(done_on="2026-03-02", corrects=wrong.code, why="A day late."))
    assert due(piece).starts_on == date(2026, 3, 2)
    text = desk.get(f"/pieces/{piece.pk}/").content.decode()
    assert "corrected by the entry of 2 Mar 2026" in text
    assert "A day late." in text
    assert "corrects the entry of 1 Mar 2026" in text
    again = desk.post(f"/pieces/{piece.pk}/entries/", form(done_on="2026-03-03", corrects=wrong.code, why="x"))
    assert "That entry was corrected before." in again.content.decode()


def test_an_entry_of_another_piece_cannot_be_corrected_here(piece: Piece, signed_in: Callable[..., Client]) -> None:
    other = history(PieceFactory(), "2026-02-02")
    answer = signed_in("desk").post(f"/pieces/{piece.pk}/entries/", form(corrects=other.code))
    assert "The entry to correct is not of this piece." in answer.content.decode()
    assert not other.corrections.exists()


def test_work_that_never_happened_is_struck_with_a_reason_and_the_old_dates_are_back(
    piece: Piece, signed_in: Callable[..., Client]
) -> None:
    wrong = record(piece)
    desk, address = signed_in("desk"), f"/pieces/{piece.pk}/entries/{wrong.code}/strike/"
    assert desk.post(address, {"reason": ""}).status_code == 422
    assert due(piece).due_on == date(2033, 3, 10)
    desk.post(address, {"reason": "Another piece lay on the bench."})
    assert due(piece).due_on == date(2026, 5, 17)
    assert Trail.objects.get(deed="strike_entry").reason == "Another piece lay on the bench."
    page = desk.get(f"/pieces/{piece.pk}/").content.decode()
    assert "Overhaul: it never happened" in page
    assert "That entry was corrected before." in desk.post(address, {"reason": "x"}, follow=True).content.decode()


def test_the_form_posted_five_times_is_one_entry(piece: Piece, signed_in: Callable[..., Client]) -> None:
    desk, sent = signed_in("desk"), form()
    for _ in range(5):
        assert desk.post(f"/pieces/{piece.pk}/entries/", sent).status_code == 302
    assert HistoryEntry.objects.filter(piece=piece).count() == 1
