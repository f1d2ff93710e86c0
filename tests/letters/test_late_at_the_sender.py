"""An invitation that nobody handed over in its morning: never on a day off, never at night where its owner lives."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.utils import timezone

from service_center.book.models import Piece
from service_center.letters.actions import SendResult, Settled, daily_round, send_waiting, settle_doubt
from service_center.letters.actions.late import in_their_morning
from service_center.letters.calendars import working_days
from service_center.letters.models import Letter
from service_center.letters.rules.mornings import MORNING, NOON
from service_center.letters.rules.unusual import Asked
from tests.factories import OwnerFactory, StaffFactory
from tests.letters.conftest import only_letter
from tests.letters.sink import MailSink

Make = Callable[..., Piece]
# Monday, 20 April 2026, five in the afternoon in Zurich; in Tokyo the 21st has begun, in New York it is eleven.
MONDAY_EVENING = datetime(2026, 4, 20, 15, 0, tzinfo=UTC)
SUNDAY_EVENING = datetime(2026, 4, 19, 18, 0, tzinfo=UTC)
SWISS = {"country": "CH", "time_zone": "Europe/Zurich"}
LATER = timedelta(minutes=4)


def round_of(day: date) -> None:
    """In time, on the evening before."""
    with time_machine.travel(datetime.combine(day, time(), UTC), tick=False):
        daily_round(as_of=day, now=timezone.now(), asked=Asked.BY_CLOCK)


def sender_comes_back(now: datetime, **options: Any) -> SendResult:
    """A mail server, or a worker, that was away: the first look after it, and no second one by the machine's clock."""
    return send_waiting(now=now, **options)


def waiting_until() -> dict[str, datetime]:
    return {letter.owner.country: letter.not_before for letter in Letter.objects.filter(state="waiting")}


def test_who_was_not_written_to_in_the_morning_is_on_the_next_one(due_piece: Make, sink: MailSink) -> None:
    for fields in (
        SWISS,
        {"country": "JP", "time_zone": "Asia/Tokyo"},
        {"country": "US", "time_zone": "America/New_York"},
    ):
        due_piece(owner=OwnerFactory(**fields))
    round_of(date(2026, 4, 20))
    assert sender_comes_back(MONDAY_EVENING).sent == 1
    assert Letter.objects.select_related("owner").get(state="sent").owner.country == "US"
    assert waiting_until() == {
        "CH": datetime(2026, 4, 21, 7, 0, tzinfo=UTC),
        "JP": datetime(2026, 4, 21, 0, 0, tzinfo=UTC),
    }
    assert set(Letter.objects.filter(state="waiting").values_list("attempt", flat=True)) == {0}
    assert len(sink.messages) == 1


def test_after_a_weekend_without_a_sender_they_leave_on_monday(due_piece: Make, sink: MailSink) -> None:
    due_piece(owner=OwnerFactory(**SWISS))
    round_of(date(2026, 4, 24))  # a Friday
    assert sender_comes_back(datetime(2026, 4, 25, 8, 0, tzinfo=UTC)).sent == 0
    assert only_letter().not_before == datetime(2026, 4, 27, 7, 0, tzinfo=UTC)


@pytest.mark.parametrize(("clock", "goes"), [("09:59", True), ("10:01", False)])
def test_a_morning_ends_at_noon(due_piece: Make, sink: MailSink, clock: str, goes: bool) -> None:
    """In Zurich; the times are in UTC."""
    due_piece(owner=OwnerFactory(**SWISS))
    round_of(date(2026, 4, 20))
    assert sender_comes_back(datetime.fromisoformat(f"2026-04-20T{clock}+00:00")).sent == int(goes)


def test_an_owner_who_moved_is_written_to_in_the_morning_of_where_they_live_now(
    due_piece: Make, sink: MailSink
) -> None:
    piece = due_piece(owner=OwnerFactory(**SWISS))
    round_of(date(2026, 4, 20))
    assert piece.owner is not None
    piece.owner.country, piece.owner.time_zone = "JP", "Asia/Tokyo"
    piece.owner.save()
    assert sender_comes_back(datetime(2026, 4, 20, 8, 30, tzinfo=UTC)).sent == 0
    assert only_letter().not_before == datetime(2026, 4, 21, 0, 0, tzinfo=UTC)


def test_the_clocks_own_round_that_runs_late_writes_for_the_next_morning(due_piece: Make) -> None:
    """The whole house was away until the afternoon."""
    due_piece(owner=OwnerFactory(**SWISS))
    due_piece(owner=OwnerFactory(country="US", time_zone="America/New_York"))
    daily_round(as_of=date(2026, 4, 20), now=MONDAY_EVENING, asked=Asked.BY_CLOCK)
    assert waiting_until() == {
        "CH": datetime(2026, 4, 21, 7, 0, tzinfo=UTC),
        "US": datetime(2026, 4, 20, 13, 0, tzinfo=UTC),
    }


def test_a_day_that_a_person_asks_for_when_it_is_over_has_no_other_morning(due_piece: Make, sink: MailSink) -> None:
    due_piece(owner=OwnerFactory(**SWISS))
    with time_machine.travel(MONDAY_EVENING, tick=False):
        daily_round(as_of=date(2026, 4, 20), now=MONDAY_EVENING)
    assert sender_comes_back(MONDAY_EVENING).sent == 1


@pytest.mark.parametrize("sort", ["confirmation", "order", "receipt"])
def test_word_about_a_visit_or_an_order_leaves_at_any_hour(db: None, sort: str) -> None:
    letter = Letter.objects.create(
        owner=OwnerFactory(**SWISS), sort=sort, language="en", planned_on=date(2026, 4, 18),
        not_before=datetime(2026, 4, 18, 8, tzinfo=UTC),
    )  # fmt: skip
    assert in_their_morning([letter], SUNDAY_EVENING) == [letter]


def test_a_day_that_stands_for_today_is_a_persons_word_and_no_clock_is_asked(due_piece: Make, sink: MailSink) -> None:
    due_piece(owner=OwnerFactory(**SWISS))
    round_of(date(2026, 4, 20))
    assert sender_comes_back(MONDAY_EVENING, as_of=date(2026, 4, 20)).sent == 1


def test_a_doubt_that_is_sent_again_in_the_evening_goes_in_the_morning(due_piece: Make, sink: MailSink) -> None:
    due_piece(owner=OwnerFactory(**SWISS))
    round_of(date(2026, 4, 20))
    sink.fail("dot", "drop")
    sender_comes_back(datetime(2026, 4, 20, 7, 0, tzinfo=UTC))
    settle_doubt(only_letter(), Settled.SENT_AGAIN, by=StaffFactory(role="desk"), now=MONDAY_EVENING)
    assert (only_letter().state, only_letter().not_before) == ("waiting", datetime(2026, 4, 21, 7, 0, tzinfo=UTC))


def zone_where_it_is(hour: int) -> ZoneInfo:
    """A zone in which this hour has begun now; `Etc/GMT-9` is nine hours ahead of UTC."""
    ahead = (hour - timezone.now().hour + 11) % 24 - 11
    return ZoneInfo(f"Etc/GMT{-ahead:+d}")


def test_a_pause_that_ends_in_the_evening_lasts_until_the_next_morning(due_piece: Make, sink: MailSink) -> None:
    """By the database's clock, which is the machine's."""
    zone = zone_where_it_is(20)
    due_piece(owner=OwnerFactory(country="GB", time_zone=zone.key))
    round_of(date(2026, 4, 20))
    sink.fail("rcpt", "451 4.7.1 greylisted")
    today = timezone.now().astimezone(zone).date()
    sender_comes_back(datetime(2026, 4, 20, tzinfo=UTC), as_of=date(2026, 4, 20))
    then = only_letter().not_before.astimezone(zone)
    assert only_letter().temporary_refusals == 1
    assert then.time() == MORNING
    days = [today + timedelta(days=ahead) for ahead in range(1, 12)]
    assert then.date() == next(day for day in days if working_days("GB")(day))


def test_a_pause_within_the_morning_is_as_long_as_it_is(due_piece: Make, sink: MailSink) -> None:
    zone = zone_where_it_is(10)
    due_piece(owner=OwnerFactory(country="GB", time_zone=zone.key))
    round_of(date(2026, 4, 20))
    sink.fail("rcpt", "451 4.7.1 greylisted")
    before = timezone.now()
    sender_comes_back(datetime(2026, 4, 20, tzinfo=UTC), as_of=date(2026, 4, 20))
    then = only_letter().not_before
    assert then >= before + LATER
    here = then.astimezone(zone)
    assert MORNING <= here.time() < NOON
    assert working_days("GB")(here.date())
    if working_days("GB")(before.astimezone(zone).date()):
        assert then < before + timedelta(minutes=7)
