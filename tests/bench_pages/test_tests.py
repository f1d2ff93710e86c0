"""Testing tightness at the bench, and running times."""

from uuid import uuid4

import pytest
from django.urls import reverse

from service_center.book.models import HistoryEntry
from service_center.intervals.models import DueDate
from service_center.measurements.models import ReserveReading, TightnessResult, TightnessRun
from tests.factories import PieceFactory

pytestmark = pytest.mark.django_db
AIR = {"minutes": "1", "pressure_drop_mbar": "1,2", "volume_ml": "10", "start_c": "22", "end_c": "", "passed": ""}


def page_of(piece):
    return reverse("bench:tightness", args=[piece.pk])


def begin(bench, piece):
    bench.post(page_of(piece), {"begin": "yes", "form_key": str(uuid4())})


def keep(bench, piece, test, **said):
    return bench.post(page_of(piece), {"test": test, "remark": "", **said})


def pass_dry(bench, piece):
    keep(bench, piece, "look", passed="yes")
    keep(bench, piece, "dry_vacuum", bar="-0.7", **AIR)
    keep(bench, piece, "dry_pressure", bar="2", **AIR)


def test_the_plan_says_pressures_in_bar_and_in_metres_of_the_marking_with_cautions(bench, piece):
    page = bench.get(page_of(piece)).content.decode()
    for said in ("10\N{NO-BREAK SPACE}bar (100 m of the marking), 10\N{NO-BREAK SPACE}min", "2\N{NO-BREAK SPACE}bar (20 m of the marking)", "radium", "pressure vessel",
                 "Local codes and licensed practice come first."):  # fmt: skip
        assert said in page


def test_a_divers_watch_is_planned_at_125_percent(bench):
    page = bench.get(page_of(PieceFactory(model__rated_bar=20, model__divers=True))).content.decode()
    assert "25\N{NO-BREAK SPACE}bar (250 m of the marking), 120\N{NO-BREAK SPACE}min" in page


def test_a_passed_run_is_a_history_fact_that_starts_the_interval_anew(bench, piece):
    begin(bench, piece)
    pass_dry(bench, piece)
    keep(bench, piece, "water", bar="10", minutes="10", passed="yes")
    assert not HistoryEntry.objects.exists()
    keep(bench, piece, "condensation", minutes="1", passed="yes")
    entry = HistoryEntry.objects.get()
    assert (entry.kind, entry.tightness, entry.done_by) == ("tightness_check", "passed", "own")
    assert DueDate.objects.get(piece=piece, kind="tightness").starts_on == entry.done_on
    assert "It passed every test" in bench.get(page_of(piece)).content.decode()


def test_a_failed_test_says_what_comes_next_and_makes_a_test_owed(bench, piece):
    begin(bench, piece)
    keep(bench, piece, "look", passed="yes")
    keep(bench, piece, "dry_vacuum", bar="-0.7", **{**AIR, "pressure_drop_mbar": "9,5"})
    page = bench.get(page_of(piece)).content.decode()
    assert "no water until it passes dry" in page
    assert HistoryEntry.objects.get().tightness == "failed"
    assert DueDate.objects.get(piece=piece, kind="tightness").due_on == HistoryEntry.objects.get().done_on


def test_water_cannot_be_sent_before_air(bench, piece):
    begin(bench, piece)
    keep(bench, piece, "look", passed="yes")
    keep(bench, piece, "water", bar="10", minutes="10", passed="yes")
    assert [one.test for one in TightnessResult.objects.all()] == ["look"]


def test_a_double_tap_keeps_one_result_and_one_run(bench, piece):
    key = str(uuid4())
    for _tap in range(2):
        bench.post(page_of(piece), {"begin": "yes", "form_key": key})
    for _tap in range(2):
        keep(bench, piece, "look", passed="yes")
    assert (TightnessRun.objects.count(), TightnessResult.objects.count()) == (1, 1)


@pytest.mark.parametrize(
    ("said", "reason"),
    [
        ({"bar": "-0.3", **AIR}, "The plan asks for -0.7 bar"),
        ({"bar": "-0.7", **AIR, "volume_ml": ""}, "A leak flow needs it."),
        ({"bar": "-0.7", **AIR, "pressure_drop_mbar": ""}, "Say whether it passed"),
        ({"bar": "-0.7", **AIR, "start_c": "warm"}, "is not a number"),
    ],
)
def test_what_cannot_be_is_named_and_stays_typed(bench, piece, said, reason):
    begin(bench, piece)
    keep(bench, piece, "look", passed="yes")
    answer = keep(bench, piece, "dry_vacuum", **said)
    assert answer.status_code == 422
    assert reason in answer.content.decode()
    assert TightnessResult.objects.count() == 1


def test_a_model_without_a_rating_has_nothing_to_test(bench):
    assert "nothing to test it for" in bench.get(page_of(PieceFactory(model__rated_bar=None))).content.decode()


def test_running_times_are_kept_by_control_and_an_unusual_one_is_asked_for(bench, piece):
    where = reverse("bench:reserve", args=[piece.pk])
    said = {"form_key": str(uuid4()), "control": "final", "stopped_on": "2026-11-24", "hours": "80", "remark": ""}
    answer = bench.post(where, said)
    assert answer.status_code == 422
    assert "more than half as long again" in answer.content.decode()
    for _tap in range(2):
        assert bench.post(where, {**said, "sure": "80.00"}).status_code == 302
    assert ReserveReading.objects.get().hours == 80
    assert "Final control, cased" in bench.get(where).content.decode()
