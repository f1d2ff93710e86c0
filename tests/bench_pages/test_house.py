"""What the desk sets for the bench, and daily rates by ISO 3159."""

import json

import pytest
from django.core.management import call_command
from django.urls import reverse

from service_center.access.models import Trail
from service_center.measurements.models import MachineFile
from service_center.measurements.queries import judging_of, mapping_of, practice
from tests.factories import CalibreFactory
from tests.outside.published import rows

pytestmark = pytest.mark.django_db


@pytest.fixture
def desk(signed_in):
    return signed_in("desk")


def limits(desk, calibre):
    form = desk.get(reverse("bench:judging", args=[calibre.pk])).context["form"]
    return {name: form[name].value() for name in form.fields}


def test_a_calibres_limits_are_used_by_the_command_too(desk, tmp_path, capsys):
    calibre = CalibreFactory(code="FH-99")
    where = reverse("bench:judging", args=[calibre.pk])
    said = limits(desk, calibre) | {"positions": "CH 6H 9H", "crown_at": "9", "highest_beat_error-high": "0,3"}
    assert desk.post(where, said).status_code == 302
    assert judging_of(calibre).positions == ("CH", "6H", "9H")
    file = tmp_path / "sheet.csv"
    file.write_text("position,wind,rate,amplitude,beat_error\nCH,full,4,285,0.4\n12H,full,0,256,0.9\n")
    call_command("evaluate_timing", str(file), "--calibre", "FH-99", "--json")
    verdicts = {one["figure"]: one for one in json.loads(capsys.readouterr().out)["verdicts"]}
    assert (verdicts["highest_beat_error"]["value"], verdicts["highest_beat_error"]["within"]) == (0.4, False)
    assert verdicts["highest_beat_error"]["decided_by"] == [{"position": "CH", "wind": "full"}]
    assert Trail.objects.get(deed="set_judging").after["crown_at"] == 9


def test_limits_that_cross_and_numbers_that_are_none_are_named(desk):
    calibre = CalibreFactory()
    where = reverse("bench:judging", args=[calibre.pk])
    said = limits(desk, calibre) | {"mean_rate-low": "20", "delta-high": "much"}
    answer = desk.post(where, said)
    assert answer.status_code == 422
    assert "lies above the upper one" in answer.content.decode()
    assert "is not a number" in answer.content.decode()


MAPPING = {
    "name": "Bench 2", "lines_above": "1", "position_column": "Lage", "wind_column": "", "rate_column": "Gang",
    "rate_unit": "s/d", "amplitude_column": "", "beat_error_column": "", "beat_error_unit": "ms",
    "decimal_comma": "on", "position_words": "oben = CH\nlinks = 6h", "wind_words": "", "sample": "",
}  # fmt: skip


def test_a_mapping_is_tried_on_a_sample_and_then_kept(desk):
    where = reverse("bench:new_machine_file")
    tried = desk.post(where, {**MAPPING, "deed": "try", "sample": "Bank\nLage;Gang\noben;+4,25\n"})
    assert "The sample reads so" in tried.content.decode()
    assert "4.2" in tried.content.decode()
    assert not MachineFile.objects.exists()
    bad = desk.post(where, {**MAPPING, "deed": "try", "sample": "Bank\nLage;Gang\nquer;1\n"})
    assert "quer" in bad.content.decode()
    assert desk.post(where, {**MAPPING, "deed": "keep"}).status_code == 302
    kept = MachineFile.objects.get()
    assert mapping_of(kept).position_words == {"oben": "CH", "links": "6H"}
    again = desk.post(where, {**MAPPING, "deed": "keep"})
    assert "Another kind of file has that name." in again.content.decode()
    assert "oben = CH" in desk.get(reverse("bench:machine_file", args=[kept.pk])).content.decode()
    desk.post(reverse("bench:machine_file", args=[kept.pk]), {"deed": "drop"})
    assert not MachineFile.objects.exists()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"position_words": "oben = up"}, "is no position"),
        ({"rate_column": ""}, "at least one figure"),
        ({"amplitude_column": "Gang"}, "cannot stand in one column"),
    ],
)
def test_a_mapping_that_maps_nothing_is_refused(desk, change, said):
    answer = desk.post(reverse("bench:new_machine_file"), {**MAPPING, **change, "deed": "keep"})
    assert answer.status_code == 422
    assert said in answer.content.decode()


def test_the_houses_practice_of_tightness_tests_is_kept(desk):
    desk.post(reverse("bench:settings"), {"every_piece_at_125": "on", "free_volume_ml": "8,5"})
    kept = practice()
    assert (kept.every_piece_at_125, kept.vacuum_first, str(kept.free_volume_ml)) == (True, False, "8.50")


def test_a_whole_series_is_judged_and_never_called_certified(desk):
    run = next(row for row in rows("chronometer_runs") if row["run"] == "C")
    answer = desk.get(
        reverse("bench:chronometer"), {f"g{day}": run[f"g{day}"] for day in range(1, 16)} | {"size": "over20"}
    )
    page = answer.content.decode()
    assert "At least one is outside its limits." in page
    assert "\N{MINUS SIGN}6.5" in page
    assert "only an accredited body does" in page


def test_a_shorter_series_says_what_it_cannot_answer(desk):
    page = desk.get(reverse("bench:chronometer"), {"g1": "1", "g2": "2", "g15": "3", "size": "over20"}).content.decode()
    assert page.count("Cannot be answered") == 6
    assert "day 3, 4, 5, 6, 7, 8, 9, 10 missing" in page
    assert desk.get(reverse("bench:chronometer"), {"g1": "x", "size": "over20"}).status_code == 422
