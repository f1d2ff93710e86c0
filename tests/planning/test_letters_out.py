"""What is still expected of letters that went out: by the step reached, and what a tightness test takes of the benches."""

from collections.abc import Callable
from datetime import UTC, date, datetime

import pytest

from service_center.book.models import HistoryEntry, Piece
from service_center.book.rules import ServiceKind
from service_center.intervals.models import DueDate
from service_center.letters.actions import daily_round
from service_center.letters.models import Letter, Reminder
from service_center.letters.rules.unusual import Asked
from service_center.letters.rules.words import Step
from service_center.planning.queries import levelling
from service_center.planning.queries.answers import answers_by_letter, awaited, overhaul_answers_known, written_to
from service_center.planning.rules.arrivals import OVERHAUL_INVITATION, common_shares
from service_center.planning.rules.survival import Sent
from service_center.workshop.models import StandardTime
from tests.factories import WatchModelFactory

Sold = Callable[..., list[Piece]]
pytestmark = pytest.mark.usefixtures("benches")

INVITED, NUDGED = date(2026, 11, 25), date(2027, 1, 6)
NUDGE = (ServiceKind.OVERHAUL, Step.NUDGE)


def written(*days: date) -> None:
    for day in days:
        daily_round(as_of=day, now=datetime.combine(day, datetime.min.time(), UTC), asked=Asked.CONFIRMED)
        Letter.objects.filter(planned_on=day).update(
            state="sent", sent_at=datetime.combine(day, datetime.min.time(), UTC)
        )


def test_a_piece_is_awaited_by_its_latest_letter(sold: Sold) -> None:
    sold(4, "2020-01-04")
    written(INVITED, NUDGED)
    assert [(one.sort, one.weeks, one.pieces) for one in awaited(NUDGED)] == [(NUDGE, 0, 4)]
    assert [(one.sort, one.weeks, one.pieces) for one in awaited(date(2027, 1, 5))] == [(OVERHAUL_INVITATION, 6, 4)]


def test_who_was_nudged_is_expected_as_the_nudged_are(sold: Sold) -> None:
    sold(4, "2020-01-04")
    written(INVITED, NUDGED)
    out = levelling(NUDGED, 8).overhauls_out["automatic"]
    assert out == pytest.approx((4 * common_shares(NUDGE)[:8]).tolist(), rel=0.05)


def test_an_arrival_counts_for_each_letter_before_it(sold: Sold) -> None:
    piece, _other = sold(2, "2020-01-04")
    written(INVITED, NUDGED)
    HistoryEntry.objects.create(code="one", piece=piece, kind="overhaul", done_on=date(2027, 1, 20), done_by="own")
    learnt = answers_by_letter(date(2027, 2, 3))
    assert learnt[OVERHAUL_INVITATION]["automatic"] == [Sent(8, True, 1), Sent(10, False, 1)]
    assert learnt[NUDGE]["automatic"] == [Sent(2, True, 1), Sent(4, False, 1)]


@pytest.mark.parametrize("as_of", [date(2026, 12, 1), date(2027, 1, 19), date(2027, 1, 20), date(2027, 2, 3)])
def test_what_was_known_on_a_day_is_the_same_read_then_or_later(sold: Sold, as_of: date) -> None:
    piece, _other = sold(2, "2020-01-04")
    written(INVITED, NUDGED)
    HistoryEntry.objects.create(code="one", piece=piece, kind="overhaul", done_on=date(2027, 1, 20), done_by="own")
    later = list(written_to(date(2027, 2, 3)))
    assert overhaul_answers_known(later, as_of) == answers_by_letter(as_of)
    assert later


def test_a_tightness_letter_takes_bench_hours_once_the_house_has_written_how_many(sold: Sold) -> None:
    model = WatchModelFactory(calibre__complexity="automatic", rated_bar=10)
    sold(3, "2024-12-20", model=model)
    written(INVITED)
    assert set(Reminder.objects.values_list("kind", flat=True)) == {"tightness"}
    assert levelling(INVITED, 8).from_letters_out["automatic"] == [0.0] * 8
    StandardTime.objects.create(kind="tightness_check", complexity="automatic", operation="tightness_tests", minutes=30)
    found = levelling(INVITED, 8)
    shares = common_shares((ServiceKind.TIGHTNESS, Step.INVITATION))[:8]
    assert found.from_letters_out["automatic"] == pytest.approx((3 * 0.5 * shares).tolist())
    assert found.overhauls_out["automatic"] == [0.0] * 8


def test_an_invited_overhaul_takes_the_tightness_test_along(sold: Sold) -> None:
    sold(3, "2020-01-04", model=WatchModelFactory(calibre__complexity="automatic", rated_bar=10))
    written(INVITED)
    for check in DueDate.objects.filter(kind="tightness"):
        Reminder.objects.create(
            piece=check.piece, kind="tightness", starts_on=check.starts_on, due_on=check.due_on, step="invitation",
            letter=Letter.objects.first(),
        )  # fmt: skip
    assert Reminder.objects.filter(kind="tightness").count() == 3
    assert {one.sort: one.pieces for one in awaited(INVITED)} == {OVERHAUL_INVITATION: 3}
