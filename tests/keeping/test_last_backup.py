"""A manager is told how old the last backup is that is known to be whole."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.db import Error
from django.test import Client

from service_center.keeping.models import VerifiedBackup
from service_center.keeping.queries import last_backup
from service_center.letters.actions import go_on, hold_waiting
from service_center.letters.models import Letter
from tests.factories import OwnerFactory

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 6, 5, 10, 0, tzinfo=UTC)
Signed = Callable[..., Client]


def tried(made_at: datetime) -> VerifiedBackup:
    return VerifiedBackup.objects.create(made_at=made_at, verified_at=NOW, name="house.zip", size=3_000_000)


def today(client: Client, address: str = "/") -> str:
    with time_machine.travel(NOW, tick=False):
        return client.get(address).content.decode()


def test_nobody_tried_one() -> None:
    assert last_backup(NOW).overdue


def test_the_newest_that_was_tried_counts_in_whatever_order_they_were() -> None:
    tried(NOW - timedelta(days=1))
    tried(NOW - timedelta(days=30))
    assert (last_backup(NOW).made_at, last_backup(NOW).overdue) == (NOW - timedelta(days=1), False)


def test_seven_days_are_not_too_long_and_a_minute_more_is(settings: Any) -> None:
    settings.BACKUP_VERIFIED_DAYS = 7
    tried(NOW - timedelta(days=7))
    assert not last_backup(NOW).overdue
    assert last_backup(NOW + timedelta(minutes=1)).overdue


def test_a_manager_is_warned_and_others_are_left_alone(signed_in: Signed) -> None:
    tried(NOW - timedelta(days=20))
    page = today(signed_in("manager"))
    assert "notice--caution" in page
    assert "found whole is of 16 May 2026" in page
    assert "found whole" not in today(signed_in("desk"))


def test_a_manager_of_a_house_that_keeps_backups_sees_a_quiet_line(signed_in: Signed) -> None:
    tried(NOW - timedelta(hours=10))
    page = today(signed_in("manager"))
    assert "found whole is of 5 June 2026, 00:00" in page
    assert "notice--caution" not in page


def test_the_desk_is_told_that_letters_are_held_since_a_restore(due_letter: Letter, signed_in: Signed) -> None:
    desk = signed_in("desk")
    said = "A backup was brought back: 1 letter that waited in it is held."
    assert said not in today(desk)
    hold_waiting()
    assert said in today(desk)
    assert said in today(desk, "/letters/")
    go_on(by=None, now=NOW)
    assert said not in today(desk)


@pytest.fixture
def due_letter() -> Letter:
    return Letter.objects.create(owner=OwnerFactory(), language="en", planned_on=NOW.date(), not_before=NOW)


def test_what_was_tried_stays_written_down() -> None:
    one = tried(NOW)
    with pytest.raises(Error, match="facts"):
        VerifiedBackup.objects.filter(pk=one.pk).update(made_at=NOW)
