"""Hours that there are: of the watchmakers' calendars, and of skills.csv where no watchmaker has the skill."""

from datetime import date, timedelta

import pytest

from service_center.planning.models import OverhaulHours
from service_center.planning.queries import levelling
from service_center.planning.queries.benches import capacity_by_skill, hours_by_skill
from service_center.workshop.calendars.actions import add_absence, add_watchmaker
from service_center.workshop.calendars.rules import AbsenceKind
from service_center.workshop.models import StandardTime

pytestmark = pytest.mark.usefixtures("benches")

MONDAY = date(2026, 11, 23)


def test_without_watchmakers_the_hours_are_those_of_the_file() -> None:
    assert capacity_by_skill(MONDAY, 2) == {"simple": [10, 10], "automatic": [22, 22]}


def test_a_watchmakers_calendar_takes_the_place_of_the_file_for_their_skills_alone() -> None:
    ada = add_watchmaker(
        name="Ada Ashwick", first_day=date(2020, 1, 6), last_day=None, account=None, minutes=[480] * 5 + [0, 0],
        skills={"automatic": None}, by=None,
    )  # fmt: skip
    add_absence(ada, MONDAY + timedelta(days=7), MONDAY + timedelta(days=9), AbsenceKind.LEAVE, by=None)

    # Three days less in the second week: what arrives in it, or in the week before it, may wait for the weeks after.
    expected = {"simple": [10, 10], "automatic": [34, 34]}
    assert capacity_by_skill(MONDAY, 2) == expected
    assert levelling(date(2026, 11, 25), 2).problem.capacity == expected


def test_planning_counts_an_overhaul_as_the_houses_standard_minutes_add_up() -> None:
    assert hours_by_skill()["automatic"] == 5.5
    StandardTime.objects.create(kind="overhaul", complexity="automatic", operation="cleaning", minutes=85)
    assert hours_by_skill()["automatic"] == 6.5
    OverhaulHours.objects.create(skill="automatic", hours=7)
    assert hours_by_skill()["automatic"] == 7
