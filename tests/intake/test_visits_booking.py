"""A place is booked by one owner, moved, and given up."""

from datetime import UTC, date, datetime, time, timedelta
from uuid import uuid4

import pytest
from django.db import DatabaseError, transaction

from service_center.access.models import Trail
from service_center.book.models import Boutique, Piece
from service_center.intake.visits import actions, queries
from service_center.intake.visits.actions import AlreadyComing, JustTaken, NoLongerOpen, NotOffered, Wish
from service_center.intake.visits.models import Closure, OpenHoliday, OpeningHours, Visit, VisitDeed
from service_center.letters.models import Answer, Letter, Reminder
from tests.factories import BoutiqueFactory, PieceFactory, StaffFactory
from tests.intake.visits import FRIDAY, NOW, TODAY, book, keep_hours, letter_about

pytestmark = pytest.mark.django_db


@pytest.fixture
def boutique() -> Boutique:
    """Harrowmere, open on weekdays from ten to noon, one owner at a time."""
    return keep_hours(BoutiqueFactory())


def free(boutique: Boutique, day: date = FRIDAY) -> list[str]:
    return [f"{one.slot.at:%H:%M}" for found in queries.free_days(boutique, day, day) for one in found.free]


def wish(boutique: Boutique, at: str = "10:00", day: date = FRIDAY) -> Wish:
    return Wish(boutique, day, time.fromisoformat(at))


def move(visit: Visit, to: Wish) -> Visit:
    return actions.move(visit, to, form_key=uuid4(), on=TODAY, now=NOW)


def cancel(visit: Visit, *, now: datetime = NOW) -> Visit:
    return actions.cancel(visit, ask_again=date(2026, 9, 1), form_key=uuid4(), on=TODAY, now=now)


def answers(piece: Piece) -> list[tuple[str, date | None, str | None]]:
    return list(Answer.objects.filter(piece=piece).order_by("pk").values_list("choice", "day", "boutique__code"))


def test_a_booked_place_is_kept_as_wall_time_zone_and_moment_and_is_free_no_more(boutique: Boutique) -> None:
    visit = book(boutique, at="10:30")
    kept = Visit.objects.get(pk=visit.pk)
    assert (kept.day, kept.at, kept.zone, kept.seat) == (FRIDAY, time(10, 30), "Europe/London", 1)
    assert (kept.starts_at, kept.ends_at) == (
        datetime(2026, 6, 12, 9, 30, tzinfo=UTC),
        datetime(2026, 6, 12, 10, 0, tzinfo=UTC),
    )
    assert free(boutique) == ["10:00", "11:00", "11:30"]


def test_the_answer_and_the_visit_are_one(boutique: Boutique) -> None:
    first, second = PieceFactory(), PieceFactory()
    second.owner = first.owner
    second.save()
    visit = book(boutique, first, second)
    assert answers(first) == answers(second) == [("booked", FRIDAY, boutique.code)]
    assert queries.pieces_on(visit) == [first, second]
    assert Visit.objects.count() == 1


def test_where_the_answer_cannot_be_written_no_place_is_taken(boutique: Boutique) -> None:
    letter, stranger = letter_about(PieceFactory()), PieceFactory()
    with pytest.raises(ValueError, match="piece: the letter does not speak of it"):
        actions.book(letter, [stranger], wish(boutique), form_key=uuid4(), on=TODAY, now=NOW)
    assert not Visit.objects.exists()


def test_a_booked_visit_ends_the_reminder_that_has_not_gone_out(boutique: Boutique) -> None:
    piece = PieceFactory()
    letter = letter_about(piece)
    later = Letter.objects.create(owner=piece.owner, language="en", planned_on=date(2026, 6, 8), not_before=NOW)
    Reminder.objects.create(
        piece=piece, kind="tightness", starts_on=date(2019, 5, 17), step="invitation", letter=later, due_on=TODAY
    )
    actions.book(letter, [piece], wish(boutique), form_key=uuid4(), on=TODAY, now=NOW)
    assert Reminder.objects.get(piece=piece, kind="tightness").ended_because == "the owner booked a visit"


def test_the_last_place_taken_is_offered_to_nobody_else_and_the_next_ones_are(boutique: Boutique) -> None:
    book(boutique, at="11:30")
    with pytest.raises(JustTaken):
        book(boutique, at="11:30")
    assert Visit.objects.count() == 1
    assert Answer.objects.count() == 1
    last = FRIDAY + timedelta(days=30)
    following = queries.nearest_free(boutique, FRIDAY, time(11, 30), last=last, at_most=2)
    assert [(slot.day, slot.at) for slot in following] == [
        (date(2026, 6, 15), time(10)),  # over the weekend
        (date(2026, 6, 15), time(10, 30)),
    ]


def test_a_boutique_with_two_places_receives_two_owners_at_once(boutique: Boutique) -> None:
    OpeningHours.objects.update(places=2)
    assert [book(boutique).seat, book(boutique).seat] == [1, 2]
    with pytest.raises(JustTaken):
        book(boutique)


def test_fewer_places_keep_the_visits_that_are_booked(boutique: Boutique) -> None:
    OpeningHours.objects.update(places=3)
    first, _second, _third = book(boutique), book(boutique), book(boutique)
    OpeningHours.objects.update(places=1)
    cancel(first)
    assert "10:00" not in free(boutique)
    assert Visit.objects.filter(state="booked").count() == 2


@pytest.mark.parametrize(
    ("day", "at"),
    [
        (FRIDAY, "10:15"),  # no slot begins then
        (FRIDAY, "12:00"),  # closed by then
        (date(2026, 6, 13), "10:00"),  # a Saturday
        (TODAY, "11:00"),  # today
        (date(2026, 12, 3), "10:00"),  # beyond half a year
    ],
)
def test_a_time_that_is_not_offered_cannot_be_booked(boutique: Boutique, day: date, at: str) -> None:
    with pytest.raises(NotOffered):
        book(boutique, day=day, at=at)


def test_closures_and_public_holidays_are_not_offered(boutique: Boutique) -> None:
    christmas = date(2026, 12, 25)  # a Friday
    assert free(boutique, christmas) == []
    OpenHoliday.objects.create(boutique=boutique, day=christmas)
    assert free(boutique, christmas) == ["10:00", "10:30", "11:00", "11:30"]
    Closure.objects.create(boutique=boutique, first_day=christmas, last_day=christmas, reason="Stocktaking")
    assert free(boutique, christmas) == []


def test_a_longer_visit_of_an_earlier_setting_takes_every_slot_it_reaches_into(boutique: Boutique, settings) -> None:
    settings.VISIT_MINUTES = 60
    book(boutique, at="10:00")
    settings.VISIT_MINUTES = 30
    assert free(boutique) == ["11:00", "11:30"]


def test_the_same_form_sent_twice_is_one_visit(boutique: Boutique) -> None:
    piece = PieceFactory()
    letter, form = letter_about(piece), uuid4()
    visits = [actions.book(letter, [piece], wish(boutique), form_key=form, on=TODAY, now=NOW).pk for _time in range(2)]
    assert visits[0] == visits[1]
    assert (Visit.objects.count(), Answer.objects.count(), VisitDeed.objects.count()) == (1, 1, 1)


def test_an_old_form_sent_again_does_not_undo_a_later_change(boutique: Boutique) -> None:
    piece, form = PieceFactory(), uuid4()
    letter = letter_about(piece)
    visit = actions.book(letter, [piece], wish(boutique), form_key=form, on=TODAY, now=NOW)
    move(visit, wish(boutique, "11:00"))
    again = actions.book(letter, [piece], wish(boutique), form_key=form, on=TODAY, now=NOW)
    assert (again.pk, again.at) == (visit.pk, time(11))


def test_a_piece_that_comes_already_is_moved_and_not_booked_twice(boutique: Boutique) -> None:
    piece = PieceFactory()
    visit = book(boutique, piece)
    with pytest.raises(AlreadyComing) as refused:
        book(boutique, piece, at="11:00")
    assert refused.value.visit == visit


def test_a_moved_visit_frees_its_place_keeps_its_name_and_counts_the_change(boutique: Boutique) -> None:
    piece = PieceFactory()
    visit = book(boutique, piece)
    moved = move(visit, wish(boutique, "11:00"))
    assert (moved.pk, moved.key, moved.sequence) == (visit.pk, visit.key, 1)
    assert free(boutique) == ["10:00", "10:30", "11:30"]
    assert answers(piece) == [("booked", FRIDAY, boutique.code)] * 2
    assert list(VisitDeed.objects.order_by("pk").values_list("deed", "sequence")) == [("booked", 0), ("moved", 1)]


def test_a_visit_that_moves_to_a_full_time_stays_where_it_was(boutique: Boutique) -> None:
    visit, _other = book(boutique), book(boutique, at="11:00")
    with pytest.raises(JustTaken):
        move(visit, wish(boutique, "11:00"))
    kept = Visit.objects.get(pk=visit.pk)
    assert (kept.at, kept.sequence) == (time(10), 0)
    assert free(boutique) == ["10:30", "11:30"]


def test_moving_to_where_it_is_changes_nothing(boutique: Boutique) -> None:
    visit = book(boutique)
    assert move(visit, wish(boutique)).sequence == 0
    assert VisitDeed.objects.count() == 1


def test_two_owners_can_change_places_by_way_of_a_free_one(boutique: Boutique) -> None:
    one, other = book(boutique, at="10:00"), book(boutique, at="10:30")
    move(one, wish(boutique, "11:00"))
    move(other, wish(boutique, "10:00"))
    move(one, wish(boutique, "10:30"))
    assert sorted(Visit.objects.values_list("pk", "at")) == [(one.pk, time(10, 30)), (other.pk, time(10))]


def test_a_cancelled_visit_frees_its_place_and_says_when_to_ask_again(boutique: Boutique) -> None:
    piece = PieceFactory()
    cancelled = cancel(book(boutique, piece))
    assert (cancelled.state, cancelled.sequence) == ("cancelled", 1)
    assert answers(piece)[-1] == ("not_now", date(2026, 9, 1), None)
    assert "10:00" in free(boutique)
    assert cancel(cancelled).sequence == 1
    assert book(boutique).seat == 1  # somebody else
    assert book(boutique, piece, at="11:00").pk != cancelled.pk  # and the same owner anew


def test_a_visit_that_has_begun_is_neither_moved_nor_cancelled(boutique: Boutique) -> None:
    visit = book(boutique)
    begun = datetime(2026, 6, 12, 9, 0, tzinfo=UTC)
    with pytest.raises(NoLongerOpen):
        cancel(visit, now=begun)
    with pytest.raises(NoLongerOpen):
        actions.move(visit, wish(boutique, "11:00"), form_key=uuid4(), on=FRIDAY, now=begun)
    with pytest.raises(NoLongerOpen):
        move(cancel(book(boutique, at="11:30")), wish(boutique, "11:00"))


def test_of_two_pieces_one_can_stay_at_home_and_without_any_the_visit_is_off(boutique: Boutique) -> None:
    first = PieceFactory()
    second = PieceFactory(owner=first.owner)
    visit = book(boutique, first, second)
    assert actions.leave_at_home(first.owner, first, on=TODAY, now=NOW) == visit
    visit.refresh_from_db()
    assert (visit.state, visit.sequence, queries.pieces_on(visit)) == ("booked", 1, [second])
    actions.leave_at_home(first.owner, second, on=TODAY, now=NOW)
    visit.refresh_from_db()
    assert (visit.state, visit.sequence) == ("cancelled", 2)
    assert actions.leave_at_home(first.owner, second, on=TODAY, now=NOW) is None


def test_the_boutique_says_who_came_on_the_day_and_can_correct_it(boutique: Boutique) -> None:
    visit, staff = book(boutique), StaffFactory(role="boutique", boutique=boutique.code)
    with pytest.raises(NoLongerOpen):
        actions.mark(visit, came=True, by=staff, today=FRIDAY - timedelta(days=1), now=NOW)
    actions.mark(visit, came=False, by=staff, today=FRIDAY, now=NOW)
    actions.mark(visit, came=True, by=staff, today=FRIDAY, now=NOW)
    visit.refresh_from_db()
    assert visit.state == "came"
    assert [row.after for row in Trail.objects.filter(deed="mark_visit").order_by("pk")] == [
        {"state": "did_not_come"},
        {"state": "came"},
    ]
    assert "10:00" not in free(boutique)


def test_what_was_done_to_a_visit_stays_written_down(boutique: Boutique) -> None:
    book(boutique)
    with pytest.raises(DatabaseError, match="holds facts"), transaction.atomic():
        VisitDeed.objects.update(deed="moved")
    with pytest.raises(DatabaseError, match="holds facts"), transaction.atomic():
        VisitDeed.objects.all().delete()


def test_visits_that_a_later_closure_falls_on_are_shown_to_be_telephoned(boutique: Boutique) -> None:
    visit, _other = book(boutique), book(boutique, day=date(2026, 6, 15))
    assert queries.visits_when_closed(boutique, TODAY) == []
    Closure.objects.create(boutique=boutique, first_day=FRIDAY, last_day=FRIDAY, reason="A burst pipe")
    assert queries.visits_when_closed(boutique, TODAY) == [visit]


def test_an_owner_far_ahead_of_the_boutiques_clock_books_by_the_later_day() -> None:
    """In Tokyo it is Saturday already while it is Friday in New York."""
    there = keep_hours(BoutiqueFactory(time_zone="America/New_York", country="US"))
    now = datetime(2026, 6, 5, 16, 0, tzinfo=UTC)
    assert queries.booking_days(there, on=date(2026, 6, 6), now=now)[0] == date(2026, 6, 7)
    assert queries.booking_days(there, on=date(2026, 6, 5), now=now)[0] == date(2026, 6, 6)


def test_a_zone_whose_rules_changed_since_frees_no_place_and_takes_no_other(boutique: Boutique) -> None:
    """Kept as the moment of the old rules, an hour off: at ten by the boutique's clock comes who was told ten."""
    visit = book(boutique, at="10:00")
    hour = timedelta(hours=1)
    Visit.objects.update(starts_at=visit.starts_at + hour, ends_at=visit.ends_at + hour)
    assert free(boutique) == ["10:30", "11:00", "11:30"]
    assert queries.visits_when_closed(boutique, TODAY) == []
    with pytest.raises(JustTaken):
        book(boutique, at="10:00")
    Visit.objects.update(starts_at=visit.starts_at - 3 * hour, ends_at=visit.ends_at - 3 * hour)
    assert free(boutique) == ["10:30", "11:00", "11:30"]
    assert queries.visits_when_closed(boutique, TODAY) == []
    assert queries.free_days(boutique, FRIDAY, FRIDAY, moving=visit)[0].free[0].slot.at == time(10)


def test_offering_half_a_year_costs_as_many_statements_as_a_day(boutique: Boutique, django_assert_num_queries) -> None:
    book(boutique)
    with django_assert_num_queries(6):
        queries.free_days(boutique, FRIDAY, FRIDAY)
    with django_assert_num_queries(6):
        queries.free_days(boutique, FRIDAY, FRIDAY + timedelta(days=180))
