"""Clocks that are wrong, and nights on which they change: nobody is written to twice (F18)."""

from collections import Counter
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.db.models.functions import Now
from django.utils import timezone

from service_center.letters import faults
from service_center.letters.actions import daily_round, lost, round_of_the_day, send_waiting, take_round_back
from service_center.letters.models import Letter
from service_center.letters.queries.held_rounds import held_rounds
from tests.factories import BoutiqueFactory, OwnerFactory, PieceFactory, StaffFactory, WatchModelFactory
from tests.letters.sink import MailSink

pytestmark = pytest.mark.django_db
NIGHTS = {  # the nights of 2026 in which clocks change, where they do: tzdata 2026
    "Europe/London": date(2026, 3, 29),
    "America/New_York": date(2026, 3, 8),
    "Australia/Lord_Howe": date(2026, 4, 5),
    "Pacific/Auckland": date(2026, 4, 5),
    "America/Santiago": date(2026, 4, 5),
    "Asia/Tokyo": date(2026, 3, 29),
}


@pytest.fixture
def sink(settings: Any, tmp_path: Any) -> Iterator[MailSink]:
    with MailSink() as server:
        settings.MAIL_CONFIGURED, settings.DATA_DIR = True, tmp_path
        settings.EMAIL_HOST, settings.EMAIL_PORT = server.host, server.port
        settings.EMAIL_TIMEOUT = settings.MAIL_DOT_SECONDS = 5
        yield server


def owner_with_a_piece(sold_on: date, zone: str = "Europe/London") -> None:
    boutique = BoutiqueFactory(time_zone=zone)
    PieceFactory(
        owner=OwnerFactory(time_zone=zone, country=""), boutique=boutique, model=WatchModelFactory(rated_bar=None),
        sold_on=sold_on, made_on=None,
    )  # fmt: skip


@pytest.mark.parametrize("wrong_by", [timedelta(hours=-1), timedelta(hours=1), timedelta(days=3 * 365)])
def test_a_clock_that_is_wrong_for_a_while_writes_nobody_twice_within_28_days(
    sink: MailSink, wrong_by: timedelta
) -> None:
    for days in range(0, 120, 10):
        owner_with_a_piece(date(2019, 3, 20) + timedelta(days=days))
    desk = StaffFactory(role="desk")
    right = datetime(2026, 3, 18, 18, 30, tzinfo=UTC)
    for hours in range(0, 24 * 60, 7):
        now = right + timedelta(hours=hours)
        for clock in (now, now + wrong_by, now) if hours % 35 == 0 else (now,):
            with time_machine.travel(clock, tick=False):
                round_of_the_day(now=clock)
                send_waiting(now=clock, as_of=clock.date(), until_empty=True)
                # A round of a day years ahead is held; the desk sees that the clock is wrong.
                for held in held_rounds():
                    take_round_back(held, on=clock.date(), by=desk)
    for letters in _days_by_owner().values():
        assert all((later - earlier).days >= 28 for earlier, later in pairwise(sorted(letters)))
    copies = Counter(mail.message_id for mail in sink.messages)
    assert set(copies.values()) == {1}
    assert len(copies) == Letter.objects.filter(state="sent").count() >= 12


def _days_by_owner() -> dict[int, list[date]]:
    days: dict[int, list[date]] = {}
    for owner, day in Letter.objects.exclude(state="ended").values_list("owner", "planned_on"):
        days.setdefault(owner, []).append(day)
    return days


def test_over_the_nights_in_which_clocks_change_each_owner_gets_one_letter_at_nine_in_the_morning() -> None:
    for zone, night in NIGHTS.items():
        for offset in range(-4, 5):
            # Invited 60 days before it is due, which is 84 months after it was sold.
            owner_with_a_piece((night + timedelta(days=60 + offset)).replace(year=2019), zone)
    begin = datetime(2026, 3, 1, tzinfo=UTC)
    for hours in range(24 * 75):
        now = begin + timedelta(hours=hours)
        with time_machine.travel(now, tick=False):
            round_of_the_day(now=now)
    letters = list(Letter.objects.select_related("owner"))
    assert Counter(letter.owner_id for letter in letters) == dict.fromkeys({one.owner_id for one in letters}, 1)
    assert len(letters) == 9 * len(NIGHTS)
    for letter in letters:
        local = letter.not_before.astimezone(ZoneInfo(letter.owner.time_zone))
        assert (local.date(), local.hour, local.minute) == (letter.planned_on, 9, 0)


@pytest.mark.parametrize("wrong_by", [timedelta(days=3 * 365), timedelta(hours=-1)])
def test_a_sender_whose_clock_is_wrong_takes_no_letter_out_of_anothers_hands(
    sink: MailSink, wrong_by: timedelta
) -> None:
    """Leases are by the database's clock."""
    owner_with_a_piece(date(2012, 5, 17))
    daily_round(as_of=date(2019, 3, 18), now=timezone.now())
    with time_machine.travel(timezone.now() + wrong_by):
        faults.plan("before_dot:raise")
        try:
            with pytest.raises(faults.InjectedFault):
                send_waiting(now=timezone.now())
        finally:
            faults.plan("")
        assert lost.put_back_the_abandoned() == (0, 0)
    assert lost.put_back_the_abandoned() == (0, 0)
    assert send_waiting(now=timezone.now()).sent == 0
    Letter.objects.update(lease_until=Now() - timedelta(seconds=1))
    assert send_waiting(now=timezone.now()).sent == 1
