"""What the worker is asked to work out: once, also when workers die, when two ask, and when nobody rings."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest

from service_center.book.models import Piece
from service_center.intervals.actions import bring_to
from service_center.letters.asked_for import MAY_TAKE, TRIES
from service_center.planning.actions import ask_for_picture, tick, work_out
from service_center.planning.actions.reckoning import PICTURES_KEPT
from service_center.planning.models import Forecast, Reckoning

Sold = Callable[..., list[Piece]]
pytestmark = pytest.mark.usefixtures("benches")

DAY, NOW = date(2026, 11, 25), datetime(2026, 11, 25, 9, tzinfo=UTC)


def asked(weeks: int = 26) -> Reckoning:
    return ask_for_picture(as_of=DAY, weeks=weeks, at=NOW, by=None)


def test_a_picture_that_is_under_way_is_not_asked_for_twice() -> None:
    assert asked().pk == asked().pk
    assert asked(52).pk != asked().pk


def test_a_picture_is_there_once_worked_out_and_asked_for_anew_after_that() -> None:
    first = asked()
    assert work_out(now=NOW) == 1
    first.refresh_from_db()
    assert (first.outcome, first.finished_at) == ("done", NOW)
    assert asked().pk != first.pk


def test_what_one_worker_has_in_hand_no_other_takes() -> None:
    Reckoning.objects.filter(pk=asked().pk).update(begun_at=NOW, tries=1)
    assert work_out(now=NOW + timedelta(minutes=5)) == 0


def test_what_a_worker_that_died_left_is_taken_up_by_the_next() -> None:
    Reckoning.objects.filter(pk=asked().pk).update(begun_at=NOW, tries=1)
    assert work_out(now=NOW + MAY_TAKE) == 1
    assert Reckoning.objects.get().outcome == "done"


def test_what_kills_its_worker_is_given_up() -> None:
    Reckoning.objects.filter(pk=asked().pk).update(begun_at=NOW, tries=TRIES)
    assert work_out(now=NOW + MAY_TAKE) == 0
    assert Reckoning.objects.get().outcome == "failed"


def test_a_fault_is_kept_with_what_was_asked_and_the_next_is_worked_out(monkeypatch: pytest.MonkeyPatch) -> None:
    asked(26)
    asked(52)
    seen = []

    def once(**_asked: object) -> None:
        seen.append(1)
        raise MemoryError

    with monkeypatch.context() as patched:
        patched.setattr("service_center.planning.actions.reckoning.look_at_levelling", once)
        assert work_out(now=NOW) == 2
    assert list(Reckoning.objects.values_list("outcome", "why")) == [("failed", "MemoryError")] * 2
    assert len(seen) == 2


def test_old_pictures_go() -> None:
    for number in range(PICTURES_KEPT + 3):
        asked()
        work_out(now=NOW + timedelta(minutes=number))
    assert Reckoning.objects.count() == PICTURES_KEPT + 1
    assert Reckoning.objects.exclude(problem=None).count() == 1


def test_the_tick_works_out_the_days_picture_and_keeps_a_forecast_once_a_week(sold: Sold) -> None:
    sold(60, "2020-03-04")
    bring_to(as_of=DAY)
    tick(as_of=DAY, now=NOW)
    kept = set(Forecast.objects.values_list("week", "skill", "made_on"))
    assert {made_on for *_, made_on in kept} == {DAY}
    assert len(kept) == 26 * 2
    tick(as_of=DAY, now=NOW + timedelta(seconds=30))
    assert Reckoning.objects.count() == 1
    tick(as_of=DAY + timedelta(days=1), now=NOW + timedelta(days=1))
    assert set(Forecast.objects.values_list("week", "skill", "made_on")) == kept
    assert Reckoning.objects.count() == 2
    tick(as_of=DAY + timedelta(days=7), now=NOW + timedelta(days=7))
    assert Forecast.objects.count() == 2 * len(kept)
