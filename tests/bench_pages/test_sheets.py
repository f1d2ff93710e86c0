"""Reading a sheet at the bench: typed, pasted, out of a file; refused, questioned, kept; looked at."""

from datetime import date
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from service_center.intervals.models import DueDate
from service_center.measurements.actions import record_sheet
from service_center.measurements.models import MachineFile, TimingSheet
from service_center.measurements.queries import readings_of
from service_center.measurements.rules import Reading, Wind
from tests.factories import PieceFactory
from tests.measurements.test_sheet import SIX, sheet

pytestmark = pytest.mark.django_db
KEY = "5d3c1f8e-0f6a-4b0e-9d57-3d1c1ab0a001"


def typed(**cells):
    return {
        "form_key": KEY, "taken_on": "2026-11-24", "instrument": "Bench 2", "lift_angle_deg": "52",
        "temperature_c": "22,5", "beat_error_is": "half", "remark": "", **cells,
    }  # fmt: skip


def new(piece):
    return reverse("bench:new_sheet", args=[piece.pk])


def test_six_positions_at_two_wind_states_are_kept_with_how_they_were_read(bench, piece):
    cells = {
        f"{one.wind}-{one.position}-{field}": str(getattr(one, field)).replace(".", ",")
        for one in sheet(SIX)
        for field in ("rate", "amplitude", "beat_error")
    }
    answer = bench.post(new(piece), typed(**cells), follow=True)
    kept = TimingSheet.objects.get()
    assert len(readings_of(kept)) == 12
    assert (kept.instrument, kept.lift_angle_deg, kept.temperature_c) == ("Bench 2", 52, Decimal("22.5"))
    page = answer.content.decode()
    assert "Rate by position" in page
    assert "+1.2\N{NO-BREAK SPACE}s/d" in page
    assert "answers none of the seven criteria" in page


def test_a_sheet_sent_twice_is_one(bench, piece):
    for _tap in range(2):
        bench.post(new(piece), typed(**{"full-CH-rate": "4", "full-CH-amplitude": "285"}))
    assert TimingSheet.objects.count() == 1


def test_what_cannot_be_is_refused_at_its_cell_and_nothing_typed_is_lost(bench, piece):
    answer = bench.post(new(piece), typed(**{"full-CH-amplitude": "385", "full-6H-rate": "+3,5"}))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "an amplitude above 360° cannot be" in page
    assert 'value="+3,5"' in page
    assert not TimingSheet.objects.exists()


def test_what_is_unlikely_is_asked_for_in_place_and_kept_once_confirmed(bench, piece):
    cells = typed(**{"full-CH-amplitude": "140"})
    answer = bench.post(new(piece), cells)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert '<td class="questioned">' in page
    confirm = page.split('name="looked_again" value="')[1].split('"')[0]
    other = bench.post(new(piece), {**cells, "full-CH-amplitude": "141", "looked_again": confirm})
    assert other.status_code == 422
    assert bench.post(new(piece), {**cells, "looked_again": confirm}).status_code == 302


def test_an_empty_grid_a_day_to_come_and_a_wrong_angle_are_named(bench, piece):
    answer = bench.post(new(piece), typed(taken_on="2026-12-01", lift_angle_deg="5"))
    page = answer.content.decode()
    for said in ("a sheet needs at least one reading", "still to come", "between 20 and 90 degrees"):
        assert said in page


def test_pasted_lines_fill_the_grid_without_a_script_and_keep_nothing(bench, piece):
    lines = "CH\t+4,0\t285\t0,2\n6H\t1.5\t255\t0.3"
    answer = bench.post(new(piece), typed(fill="lines", pasted=lines, fill_wind="24h", remark="Kept words"))
    page = answer.content.decode()
    assert answer.status_code == 200
    assert 'name="24h-CH-rate" value="+4,0"' in page
    assert "Kept words" in page
    assert not TimingSheet.objects.exists()
    wrong = bench.post(new(piece), typed(fill="lines", pasted="CH 1 2 3 4", remark="Kept words"))
    assert wrong.status_code == 422
    assert "line 1: 4 values" in wrong.content.decode()
    assert "Kept words" in wrong.content.decode()


def test_a_machines_file_fills_the_grid_by_the_houses_mapping(bench, piece):
    kind = MachineFile.objects.create(
        name="Bench 2", position_column="Pos", rate_column="Rate", beat_error_column="BE",
        whole_beat_error=True, position_words={"dial up": "CH"},
    )  # fmt: skip
    file = SimpleUploadedFile("today.csv", b"Pos,Rate,BE\ndial up,4.04,1.8\n")
    answer = bench.post(new(piece), typed(fill="file", machine_file=kind.pk, file=file))
    page = answer.content.decode()
    assert 'name="full-CH-rate" value="4.0"' in page
    assert '<option value="whole" selected>' in page
    bad = SimpleUploadedFile("today.csv", b"Pos,Rate,BE\nsideways,4.04,1.8\n")
    refused = bench.post(new(piece), typed(fill="file", machine_file=kind.pk, file=bad))
    assert refused.status_code == 422
    assert "today.csv:2:Pos: &quot;sideways&quot; is no position" in refused.content.decode()


def test_a_reading_below_the_service_limit_makes_the_overhaul_owed_at_once(bench, piece):
    piece.sold_on = date(2024, 5, 17)
    piece.save()
    bench.post(new(piece), typed(**{"full-6H-amplitude": "205"}))
    assert DueDate.objects.get(piece=piece, kind="overhaul").due_on == date(2026, 11, 24)


def test_a_wrong_lift_angle_leads_to_a_new_sheet(bench, piece):
    readings = [Reading("CH", Wind.FULL, None, Decimal(270), None)]
    wrong = record_sheet(piece, readings, taken_on=date(2026, 11, 2), by=None, lift_angle_deg=Decimal(52))
    where = reverse("bench:correct_lift_angle", args=[piece.pk, wrong.pk])
    page = bench.post(where, {"right": "53"}, follow=True).content.decode()
    assert "It takes the place of an earlier sheet." in page
    assert ">275<" in page
    assert bench.post(where, {"right": "54"}).status_code == 422
    assert bench.post(where, {"right": "x"}).status_code == 422


def test_two_sheets_stand_beside_each_other_the_earlier_first(bench, piece):
    late = record_sheet(piece, sheet(SIX), taken_on=date(2026, 11, 2), by=None)
    early = record_sheet(piece, sheet(["CH"]), taken_on=date(2025, 11, 2), by=None)
    page = bench.get(reverse("bench:compare", args=[piece.pk]), {"before": late.pk, "after": early.pk}).content.decode()
    assert "2 Nov 2025 against 2 Nov 2026" in page
    drawn = page.split('<svg class="figure')[1:]
    assert len(drawn) == 2
    for svg in drawn:
        assert 'role="img"' in svg
        assert "<desc" in svg


def test_another_pieces_sheet_is_not_found(bench, piece):
    other = record_sheet(PieceFactory(), sheet(["CH"]), taken_on=date(2025, 11, 2), by=None)
    assert bench.get(reverse("bench:sheet", args=[piece.pk, other.pk])).status_code == 404


def test_the_list_of_sheets_costs_the_same_however_many(bench, piece, django_assert_max_num_queries):
    for year in range(2019, 2026):
        record_sheet(piece, sheet(SIX), taken_on=date(year, 11, 2), by=None)
    where = reverse("bench:measurements", args=[piece.pk])
    with django_assert_max_num_queries(22):
        page = bench.get(where).content.decode()
    assert "Over 7 visits" in page
