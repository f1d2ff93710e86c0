"""A house that is brought up to date: rounds that were held after a restore stay held, those let go stay let go.

Before, the trail alone told of it, and the times of two machines' clocks were compared (migration 0019).
"""

from collections.abc import Callable
from datetime import UTC, date, datetime
from importlib import import_module
from typing import Any

import pytest
import time_machine
from django.apps import apps

from service_center.access.actions import leave_trail
from service_center.book.models import Piece
from service_center.letters.actions import daily_round, go_on, hold_waiting, let_round_go
from service_center.letters.models import Round, RoundsHeld
from service_center.letters.queries.held_rounds import rounds_are_held_after_restore
from service_center.letters.rules.restored import RESTORED
from service_center.letters.rules.unusual import Asked
from tests.factories import StaffFactory
from tests.letters.conftest import NOW, round_on

Make = Callable[..., Piece]
THURSDAY, FRIDAY = date(2026, 3, 19), date(2026, 3, 20)
# Of the machine that restored. The rounds of the lost one ended by the database's clock, years later.
BEHIND, AHEAD = datetime(2016, 3, 18, 8, 0, tzinfo=UTC), datetime(2046, 3, 18, 8, 0, tzinfo=UTC)
migration: Any = import_module("service_center.letters.migrations.0019_rounds_held_since_a_restore")


@pytest.fixture(autouse=True)
def _a_house_with_rounds(due_piece: Make) -> None:
    due_piece()
    round_on("2026-03-18")


def bring_back(*, by_command: bool = True) -> None:
    """As `restore` leaves it; or as `after_restore` alone."""
    if by_command:
        leave_trail(by=None, deed="restore", subject=RESTORED, after={"backup": "house.zip"})
    hold_waiting()


def bring_back_while_held() -> None:
    """What an earlier version left of a second restore, where rounds were held already: nothing more."""
    leave_trail(by=None, deed="restore", subject=RESTORED, after={"backup": "second.zip"})


def round_let_go(day: date) -> None:
    daily_round(as_of=day, now=NOW, asked=Asked.BY_CLOCK)
    let_round_go(Round.objects.latest("pk"), by=StaffFactory(), now=NOW)


def held_after_the_upgrade() -> bool:
    RoundsHeld.objects.all().delete()
    migration.keep_what_is_in_force(apps, None)
    return rounds_are_held_after_restore()


def test_a_house_that_never_restored_holds_nothing() -> None:
    assert not held_after_the_upgrade()


def test_a_hold_in_force_stays_in_force_also_where_the_clock_that_restored_was_behind() -> None:
    with time_machine.travel(BEHIND, tick=False):
        bring_back()
    assert held_after_the_upgrade()
    daily_round(as_of=THURSDAY, now=NOW, asked=Asked.BY_CLOCK)
    assert rounds_are_held_after_restore()
    let_round_go(Round.objects.latest("pk"), by=StaffFactory(), now=NOW)
    assert not rounds_are_held_after_restore()


@pytest.mark.parametrize("by_command", [True, False], ids=["restore", "after_restore"])
def test_a_word_of_the_desk_stays_its_word(by_command: bool) -> None:
    bring_back(by_command=by_command)
    go_on(by=StaffFactory(), now=NOW)
    assert not held_after_the_upgrade()


@pytest.mark.parametrize("by_command", [True, False], ids=["restore", "after_restore"])
def test_a_round_that_the_desk_let_go_stays_its_word(by_command: bool) -> None:
    bring_back(by_command=by_command)
    round_let_go(THURSDAY)
    assert not held_after_the_upgrade()


def test_a_word_before_a_second_restore_is_no_word_about_it() -> None:
    bring_back()
    go_on(by=None, now=NOW)
    with time_machine.travel(BEHIND, tick=False):
        bring_back()
    assert held_after_the_upgrade()


def test_a_word_that_by_its_time_came_before_the_hold_is_not_believed() -> None:
    """Where a bad restore set the numbers of the trail back, a row's number alone proves nothing."""
    with time_machine.travel(AHEAD, tick=False):
        bring_back()
    go_on(by=None, now=NOW)
    assert held_after_the_upgrade()


def test_a_round_let_go_may_be_of_before_the_second_restore() -> None:
    bring_back()
    daily_round(as_of=THURSDAY, now=NOW, asked=Asked.BY_CLOCK)
    of_between = Round.objects.latest("pk")
    bring_back_while_held()
    let_round_go(of_between, by=StaffFactory(), now=NOW)
    assert held_after_the_upgrade()


def test_a_round_let_go_between_two_holds_is_no_word_about_the_second() -> None:
    bring_back()
    round_let_go(THURSDAY)
    with time_machine.travel(BEHIND, tick=False):
        bring_back()
    assert held_after_the_upgrade()


def test_whoever_confirmed_a_round_when_the_clock_s_was_held_need_not_say_it_again() -> None:
    bring_back()
    daily_round(as_of=THURSDAY, now=NOW, asked=Asked.BY_CLOCK)
    round_on(THURSDAY.isoformat())
    assert not held_after_the_upgrade()


def test_what_nobody_can_prove_to_have_been_let_go_is_held_until_a_round_is() -> None:
    bring_back()
    round_on(THURSDAY.isoformat())  # confirmed; but for its time it could have been in the backup
    assert held_after_the_upgrade()
    round_let_go(FRIDAY)
    assert not rounds_are_held_after_restore()
