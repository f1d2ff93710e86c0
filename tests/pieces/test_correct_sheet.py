"""A timing sheet that was typed wrong is written anew; both stay, and the due date follows."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal

import pytest
from django.db import DatabaseError, transaction
from django.test import Client

from service_center.access.models import Trail
from service_center.book.models import Piece
from service_center.intervals.actions import recompute
from service_center.intervals.models import DueDate
from service_center.letters.models import Letter
from service_center.measurements.actions import SheetCorrectedBeforeError, correct_sheet, record_sheet
from service_center.measurements.models import TimingSheet
from service_center.measurements.rules import Reading, Wind
from service_center.pieces.timeline import Sort, timeline
from tests.factories import PieceFactory, history
from tests.pieces.conftest import TODAY

pytestmark = pytest.mark.django_db


def reading(amplitude: int) -> Reading:
    return Reading("6H", Wind.FULL, Decimal("4.5"), Decimal(amplitude), Decimal("0.2"))


@pytest.fixture
def wrong(piece: Piece) -> TimingSheet:
    """Typed 181 for 281: the overhaul is owed."""
    sheet = record_sheet(piece, [reading(181)], taken_on=date(2025, 2, 2), by=None)
    recompute([piece.pk], as_of=TODAY)
    assert due(piece) == (date(2025, 2, 2), date(2025, 2, 2))
    return sheet


def due(piece: Piece) -> tuple[date | None, date | None]:
    row = DueDate.objects.get(piece=piece, kind="overhaul")
    return row.due_on, row.owed_since


def address(sheet: TimingSheet) -> str:
    return f"/pieces/{sheet.piece_id}/sheets/{sheet.pk}/correct/"


def form(**changes: str) -> dict[str, str]:
    return {
        "why": "281 was typed as 181.",
        "taken_on": "2025-02-02",
        "row0_position": "6H",
        "row0_rate": "4.5",
        "row0_amplitude": "281",
        "row0_beat_error": "0.20",
        **changes,
    }


def test_the_due_date_follows_the_corrected_reading_at_once(
    piece: Piece, wrong: TimingSheet, signed_in: Callable[..., Client]
) -> None:
    bench = signed_in("watchmaker")
    assert 'value="181"' in bench.get(address(wrong)).content.decode(), "it begins with what was typed"
    assert bench.post(address(wrong), form()).status_code == 302
    assert due(piece) == (date(2026, 5, 17), None)


def test_a_letter_that_waits_to_say_that_the_overhaul_is_owed_is_ended_with_the_wrong_reading(
    piece: Piece, signed_in: Callable[..., Client], letter_about: Callable[..., Letter]
) -> None:
    history(piece, "2024-02-02")
    wrong = record_sheet(piece, [reading(181)], taken_on=date(2025, 2, 2), by=None)
    recompute([piece.pk], as_of=TODAY)
    letter = letter_about()
    signed_in("watchmaker").post(address(wrong), form())
    letter.refresh_from_db()
    assert letter.state == "ended"
    assert due(piece) == (date(2031, 2, 2), None)


def test_a_letter_about_an_overhaul_that_is_due_all_the_same_goes_out(
    piece: Piece, wrong: TimingSheet, signed_in: Callable[..., Client], letter_about: Callable[..., Letter]
) -> None:
    letter = letter_about()
    signed_in("watchmaker").post(address(wrong), form())
    letter.refresh_from_db()
    assert letter.state == "waiting"


def test_both_sheets_stay_on_the_timeline_and_lead_to_each_other(
    piece: Piece, wrong: TimingSheet, signed_in: Callable[..., Client]
) -> None:
    bench = signed_in("watchmaker")
    bench.post(address(wrong), form())
    later, struck = timeline(piece, TODAY).of(Sort.READINGS).known
    assert (struck.struck, later.struck) == (True, False)
    assert struck.link is not None
    assert later.link is not None
    assert (struck.link.anchor, later.link.anchor) == (later.anchor, struck.anchor)
    assert later.why == "281 was typed as 181."
    page = bench.get(f"/pieces/{piece.pk}/").content.decode()
    assert f'id="{struck.anchor}"' in page
    assert "written down by staff-" in page


def test_a_sheet_of_another_piece_is_struck_out_and_nothing_takes_its_place(
    piece: Piece, wrong: TimingSheet, signed_in: Callable[..., Client]
) -> None:
    bench = signed_in("watchmaker")
    refused = bench.post(address(wrong), {"strike": "yes", "reason": ""})
    assert (refused.status_code, due(piece)[1]) == (422, date(2025, 2, 2))
    bench.post(address(wrong), {"strike": "yes", "reason": "Another piece lay on the stand."})
    assert due(piece) == (date(2026, 5, 17), None)
    assert Trail.objects.get(deed="correct_sheet").reason == "Another piece lay on the stand."
    assert "Timing: struck out" in bench.get(f"/pieces/{piece.pk}/").content.decode()


def test_a_reading_written_to_the_wrong_position_is_moved_and_two_cannot_share_one(
    piece: Piece, signed_in: Callable[..., Client]
) -> None:
    other = Reading("9H", Wind.FULL, None, Decimal(275), None)
    sheet = record_sheet(piece, [reading(281), other], taken_on=date(2025, 2, 2), by=None)
    bench, sent = signed_in("watchmaker"), form(row1_position="6H", row1_amplitude="275")
    refused = bench.post(address(sheet), sent)
    assert "6H stands twice at full wind" in refused.content.decode()
    bench.post(address(sheet), sent | {"row1_position": "12H"})
    assert sorted(sheet.corrections.get().readings.values_list("position", flat=True)) == ["12H", "6H"]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"row0_amplitude": "400"}, "360"),
        ({"row0_amplitude": "many"}, "Enter a number."),
        ({"row0_position": "7H"}, "Select a valid choice."),
        ({"taken_on": "2026-03-11"}, "That day is still to come."),
        ({"taken_on": "2018-11-04"}, "The piece was made after that day."),
        ({"why": ""}, "This field is required."),
        ({"row0_rate": "", "row0_amplitude": "", "row0_beat_error": ""}, "Every reading is empty."),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason_and_loses_nothing(
    piece: Piece, wrong: TimingSheet, signed_in: Callable[..., Client], changes: dict[str, str], said: str
) -> None:
    answer = signed_in("watchmaker").post(address(wrong), form(**changes))
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not wrong.corrections.exists()
    assert "281 was typed as 181." in answer.content.decode() or changes.get("why") == ""


def test_a_sheet_is_corrected_once_and_a_correction_may_be_corrected(
    wrong: TimingSheet, signed_in: Callable[..., Client]
) -> None:
    second = correct_sheet(wrong, [reading(271)], taken_on=wrong.taken_on, by=None)
    with pytest.raises(SheetCorrectedBeforeError):
        correct_sheet(wrong, [reading(261)], taken_on=wrong.taken_on, by=None)
    with pytest.raises(DatabaseError), transaction.atomic():
        TimingSheet.objects.create(piece=wrong.piece, taken_on=wrong.taken_on, voids=wrong)
    correct_sheet(second, [reading(281)], taken_on=wrong.taken_on, by=None)
    told = signed_in("desk").post(address(wrong), form(), follow=True).content.decode()
    assert "That sheet was corrected before." in told


def test_a_wrong_sheet_is_never_edited(wrong: TimingSheet) -> None:
    correct_sheet(wrong, [reading(281)], taken_on=wrong.taken_on, by=None)
    wrong.refresh_from_db()
    assert wrong.readings.get().amplitude == 181
    with pytest.raises(DatabaseError), transaction.atomic():
        TimingSheet.objects.filter(pk=wrong.pk).update(taken_on=TODAY)


def test_the_counter_corrects_no_sheet_and_nobody_that_of_another_piece(
    piece: Piece, wrong: TimingSheet, signed_in: Callable[..., Client]
) -> None:
    assert signed_in("boutique", piece.boutique.code).get(address(wrong)).status_code == 403
    other = PieceFactory()
    assert signed_in("desk").get(f"/pieces/{other.pk}/sheets/{wrong.pk}/correct/").status_code == 404
