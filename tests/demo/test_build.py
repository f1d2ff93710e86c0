"""Building the demo: through the import, by the rules of the house, once."""

import itertools
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from django.conf import settings
from django.db.models import F

from service_center.access.models import Staff
from service_center.book.models import HistoryEntry, Piece
from service_center.demo import actions, past
from service_center.demo.rules.workshop import ESTIMATE_LINES
from service_center.demo.workshop import estimate_lines
from service_center.intake.models import DropOff
from service_center.intervals.models import DueDate
from service_center.letters.models import Letter, Reminder
from service_center.measurements.models import TimingSheet
from service_center.workshop.calendars.queries import minutes_by_day
from service_center.workshop.models import OnOrder, WorkOrder
from service_center.workshop.parts.ordered.queries import overdue_deliveries
from tests.factories import OwnerFactory, PieceFactory

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 25)
A_FEW = 260


@pytest.fixture
def built(tmp_path: Path) -> Iterator[Path]:
    actions.build(tmp_path / "book", today=TODAY, progress=lambda *_: None, pieces=A_FEW)
    yield tmp_path / "book"


def test_the_book_came_in_as_files_with_readings_and_pieces_in_the_house(built: Path) -> None:
    assert (built / "pieces.csv").exists()
    launched = 10  # the launch of a chronograph, 4 % on top
    assert Piece.objects.count() == A_FEW + launched
    assert HistoryEntry.objects.count() > A_FEW
    assert TimingSheet.objects.exists()
    assert DropOff.objects.count() > 0
    assert set(Piece.objects.values_list("place", flat=True)) == {"owner", "boutique", "workshop"}
    assert actions.is_built()


def test_past_letters_are_facts_and_those_of_the_last_round_wait_for_the_sender(built: Path) -> None:
    states = set(Letter.objects.values_list("state", flat=True))
    assert states <= {"sent", "waiting", "ended"}
    waiting = Letter.objects.filter(state="waiting")
    assert {letter.planned_on for letter in waiting} == {date(2026, 11, 24)}
    assert not Letter.objects.filter(state="sent", planned_on__gte=date(2026, 11, 24)).exists()
    for letter in Letter.objects.filter(state="sent"):
        assert letter.sent_at is not None
        assert letter.sent_at > letter.not_before
        assert letter.reply.startswith("250 ")


def test_the_past_keeps_the_houses_own_rules(built: Path) -> None:
    # letters.md: at most one letter for one owner in 28 days, confirmations aside; a nudge 42 days after its invitation.
    invitations = Letter.objects.filter(sort="invitation").exclude(state="ended")
    for owner in set(invitations.values_list("owner", flat=True)):
        days = sorted(invitations.filter(owner=owner).values_list("planned_on", flat=True))
        assert all((after - before).days >= 28 for before, after in itertools.pairwise(days))
    nudges = Reminder.objects.filter(step="nudge").select_related("letter")
    assert nudges
    for nudge in nudges:
        invitation = Reminder.objects.get(
            piece=nudge.piece, kind=nudge.kind, starts_on=nudge.starts_on, step="invitation"
        )
        assert (nudge.letter.planned_on - invitation.letter.planned_on).days >= 42 - 21


def test_due_dates_stand_as_of_today_when_it_is_done(built: Path) -> None:
    before = list(
        DueDate.objects.order_by("piece", "kind").values_list("piece", "kind", "due_on", "owed_since", "held")
    )
    actions.recompute(None, as_of=TODAY)
    after = list(DueDate.objects.order_by("piece", "kind").values_list("piece", "kind", "due_on", "owed_since", "held"))
    assert before == after


def test_a_book_of_somebody_else_is_left_alone(tmp_path: Path) -> None:
    PieceFactory()
    with pytest.raises(actions.NotTheDemosBook):
        actions.is_built()


def test_a_build_that_was_interrupted_is_taken_up_again_on_another_day(tmp_path: Path, monkeypatch) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(past, "write_letters", interrupted)
        with pytest.raises(KeyboardInterrupt):
            actions.build(tmp_path, today=TODAY, progress=lambda *_: None, pieces=A_FEW)
    launched = 10  # the launch of a chronograph, 4 % on top
    assert Piece.objects.count() == A_FEW + launched
    assert not actions.is_built()
    actions.build(tmp_path, today=date(2026, 11, 27), progress=lambda *_: None, pieces=A_FEW)
    assert actions.is_built()
    launched = 10  # the launch of a chronograph, 4 % on top
    assert Piece.objects.count() == A_FEW + launched
    assert Staff.objects.count() == 4


@pytest.mark.usefixtures("built")
def test_one_watchmaker_alone_does_chronographs_and_nobody_is_at_a_bench_between_the_years() -> None:
    found = minutes_by_day(TODAY, 60)

    assert [one.name for one in found if "chronograph" in one.skills] == ["Chloé Valfontaine"]
    holidays = (date(2026, 12, 24) - TODAY).days
    assert len(found) == 4
    assert all(sum(one.minutes[holidays : holidays + 9]) == 0 < sum(one.minutes) for one in found)


def test_past_promises_were_worked_out_from_the_benches_and_mostly_kept_and_parts_are_on_order(built: Path) -> None:
    over = WorkOrder.objects.filter(quoted_on__lt=TODAY, closed_on__isnull=False)
    kept = over.filter(ready_on__lte=F("quoted_on")).count()
    assert over.exists()
    assert over.count() <= 2 * kept
    assert not over.filter(ready_on__gt=TODAY).exists()
    assert overdue_deliveries(TODAY) == 1
    assert OnOrder.objects.filter(expected_on__gt=TODAY).exists()


@pytest.mark.parametrize(
    ("language", "overhaul"), [("fr_CH", "Révision complète"), ("ja", "オーバーホール"), ("ar", "Overhaul")]
)
def test_estimates_are_written_in_the_language_of_whoever_reads_them(language: str, overhaul: str) -> None:
    assert estimate_lines(OwnerFactory.build(language=language))[0].what == overhaul


def test_every_language_of_the_house_has_its_estimate() -> None:
    assert set(ESTIMATE_LINES) == set(dict(settings.LANGUAGES))
    assert [line.what for line in estimate_lines(None)] == list(ESTIMATE_LINES["en"])
