"""Taking a piece in: one deed, whole or not at all, once however often it is sent."""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import connections

from service_center.access.models import Trail
from service_center.book.models import Custody, HistoryEntry
from service_center.guarantee.rules import CoveredBy, from_record
from service_center.intake.actions import FormUsedError, NotTakenInError, Sitting
from service_center.intake.models import DropOff
from service_center.intake.rules import Stop
from service_center.intervals.actions import recompute
from service_center.intervals.models import DueDate
from service_center.intervals.queries import due_of
from service_center.intervals.rules import State, state_on
from service_center.letters.models import Letter, Reminder
from service_center.measurements.actions import ImpossibleReadingsError
from service_center.measurements.models import TimingSheet
from service_center.measurements.rules import Reading, Wind
from tests.factories import BoutiqueFactory, PieceFactory, StaffFactory
from tests.intake.conftest import give_back

DAY = date(2026, 3, 2)
READING = Reading("CH", Wind.FULL, Decimal("4.0"), Decimal(285), Decimal("0.2"))


def nothing_was_written() -> bool:
    return not any(model.objects.exists() for model in (DropOff, TimingSheet, Custody, Trail))


@pytest.mark.django_db
def test_a_piece_taken_in_is_held_as_in_the_workshop(take):
    piece = PieceFactory()
    recompute([piece.pk], as_of=DAY)
    assert set(DueDate.objects.values_list("held", flat=True)) == {""}
    drop_off = take(piece)
    piece.refresh_from_db()
    assert piece.place == "boutique"
    assert drop_off.move.boutique == drop_off.boutique
    assert drop_off.move.since == datetime(2026, 3, 2, 10, 30, tzinfo=UTC)
    assert set(DueDate.objects.values_list("held", flat=True)) == {"workshop"}
    assert {state_on(DAY, due) for due in due_of(piece, DAY)} == {State.HELD}


@pytest.mark.django_db
def test_letters_that_have_not_gone_out_for_it_end(take):
    piece = PieceFactory()
    recompute([piece.pk], as_of=DAY)
    start = DueDate.objects.get(kind="overhaul").starts_on
    letter = Letter.objects.create(
        owner=piece.owner, language="en", planned_on=DAY, not_before=datetime(2026, 3, 2, 9, tzinfo=UTC)
    )
    Reminder.objects.create(
        piece=piece, kind="overhaul", starts_on=start, step="invitation", letter=letter, due_on=date(2026, 5, 17)
    )
    take(piece)
    letter.refresh_from_db()
    assert letter.state == "ended"
    assert Reminder.objects.get().ended_on == DAY


@pytest.mark.django_db
def test_readings_are_kept_with_the_drop_off(take):
    drop_off = take(PieceFactory(), sitting=Sitting([READING], "T-1", Decimal(52)))
    assert drop_off.sheet.taken_on == DAY
    assert drop_off.sheet.instrument == "T-1"
    assert drop_off.sheet.readings.get().amplitude == 285
    assert take(PieceFactory(), sitting=None).sheet is None


@pytest.mark.django_db
def test_the_guarantee_is_kept_as_it_was_decided_that_day(take):
    piece = PieceFactory(sold_on=date(2024, 2, 29), extension_enrolled_on=date(2024, 3, 1))
    decision = from_record(take(piece).guarantee)
    assert decision.covered_by is CoveredBy.EXTENSION
    assert (decision.cover.from_on, decision.cover.to_on) == (date(2026, 3, 1), date(2032, 2, 29))


@pytest.mark.django_db
def test_the_trail_says_who_took_what_in(take):
    staff = StaffFactory()
    drop_off = take(PieceFactory(serial="FH21-000777"), by=staff)
    trail = Trail.objects.get(deed="take_in")
    assert (trail.by, trail.subject, trail.after["drop_off"]) == (staff, "piece:FH21-000777", drop_off.number)


@pytest.mark.django_db
@pytest.mark.parametrize("status", ["lost", "stolen"])
def test_a_piece_reported_lost_or_stolen_is_not_taken_in(take, status):
    piece = PieceFactory(status=status)
    with pytest.raises(NotTakenInError) as refused:
        take(piece)
    assert refused.value.stop == status
    assert nothing_was_written()


@pytest.mark.django_db
def test_a_piece_that_is_here_is_not_taken_in_again(take):
    piece = PieceFactory()
    take(piece)
    with pytest.raises(NotTakenInError) as refused:
        take(piece)
    assert refused.value.stop is Stop.ALREADY_IN
    assert DropOff.objects.count() == 1


@pytest.mark.django_db
def test_an_impossible_reading_leaves_the_piece_with_its_owner(take):
    piece = PieceFactory()
    with pytest.raises(ImpossibleReadingsError):
        take(piece, sitting=Sitting([Reading("CH", Wind.FULL, None, Decimal(361), None)]))
    piece.refresh_from_db()
    assert piece.place == "owner"
    assert nothing_was_written()


@pytest.mark.django_db
def test_the_same_form_sent_twice_is_one_drop_off(take):
    piece, key = PieceFactory(), uuid4()
    first = take(piece, form_key=key, sitting=Sitting([READING]))
    second = take(piece, form_key=key, sitting=Sitting([READING]), owner_says="and again")
    assert first == second
    assert (DropOff.objects.count(), Custody.objects.count(), TimingSheet.objects.count()) == (1, 1, 1)


@pytest.mark.django_db
def test_one_form_takes_in_one_piece_only(take):
    key = uuid4()
    take(PieceFactory(), form_key=key)
    with pytest.raises(FormUsedError, match="R-"):
        take(PieceFactory(), form_key=key)
    assert DropOff.objects.count() == 1


@pytest.mark.django_db
def test_a_piece_that_was_handed_back_can_come_again(take):
    piece = PieceFactory()
    first = take(piece)
    give_back(piece)
    assert take(piece).number != first.number


@pytest.mark.django_db
def test_a_receipt_number_is_its_own_and_can_be_read_aloud(take):
    drop_off = take(PieceFactory())
    assert drop_off.number == f"R-{drop_off.pk:06d}"


@pytest.mark.django_db
def test_a_drop_off_is_no_service_and_starts_no_interval(take):
    take(PieceFactory())
    assert not HistoryEntry.objects.exists()


def at_once(deeds):
    """Run deeds in threads of their own, each with its own connection."""

    def run(deed):
        try:
            return deed()
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(deeds)) as pool:
        return list(pool.map(run, deeds))


@pytest.mark.django_db(transaction=True)
def test_two_taps_at_once_are_one_drop_off(take):
    piece, key, staff, boutique = PieceFactory(), uuid4(), StaffFactory(), BoutiqueFactory()
    found = at_once([lambda: take(piece, form_key=key, by=staff, boutique=boutique)] * 4)
    assert len({drop_off.number for drop_off in found}) == 1
    assert (DropOff.objects.count(), Custody.objects.count()) == (1, 1)


@pytest.mark.django_db(transaction=True)
def test_two_counters_at_once_never_take_in_the_same_piece_twice(take):
    piece, staff, boutique = PieceFactory(), StaffFactory(), BoutiqueFactory()

    def one():
        try:
            return take(piece, by=staff, boutique=boutique).number
        except NotTakenInError as refused:
            return refused.stop

    found = at_once([one] * 4)
    assert found.count(Stop.ALREADY_IN) == 3
    assert DropOff.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_counters_working_at_once_give_every_receipt_its_own_number(take):
    staff, boutique = StaffFactory(), BoutiqueFactory()
    pieces = [PieceFactory() for _ in range(8)]
    found = at_once([lambda piece=piece: take(piece, by=staff, boutique=boutique).number for piece in pieces])
    assert len(set(found)) == 8
    assert sorted(found) == sorted(DropOff.objects.values_list("number", flat=True))
