"""What the desk writes down of benches, and what it cannot; and the reading of it."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from service_center.access.models import Trail
from service_center.workshop.calendars import queries
from service_center.workshop.calendars.actions import (
    NotKept,
    add_absence,
    add_holiday,
    add_watchmaker,
    change_watchmaker,
    close_workshop,
    copy_year,
    keep_place,
    keep_skills,
    keep_week,
    open_workshop,
    take_back_absence,
    work_on_holiday,
)
from service_center.workshop.calendars.models import Absence, HolidayYear, PublicHoliday, Watchmaker, WorkshopClosure
from service_center.workshop.calendars.rules import AbsenceKind
from tests.factories import StaffFactory

pytestmark = pytest.mark.django_db

MONDAY = date(2026, 11, 30)
FIVE_DAYS = [480] * 5 + [0, 0]


def day(number: int) -> date:
    """So many days after the Monday."""
    return MONDAY + timedelta(days=number)


def bench(**said: Any) -> Watchmaker:
    usual = {
        "name": "Ada Ashwick", "first_day": date(2020, 1, 6), "last_day": None, "account": None, "minutes": FIVE_DAYS,
        "skills": {"simple": None, "automatic": None}, "by": None,
    }  # fmt: skip
    return add_watchmaker(**(usual | said))


def in_switzerland() -> None:
    keep_place(country="CH", subdivision="NE", time_zone="Europe/Zurich", as_of=MONDAY, by=None)


def refused(field: str) -> Any:
    """A refusal that names the field."""
    return pytest.raises(NotKept, match=f"^{field}: ")


def test_a_new_watchmaker_has_hours_by_week_and_skill() -> None:
    bench()

    assert queries.hours_by_week_and_skill(MONDAY, 2) == {"simple": [20, 20], "automatic": [20, 20]}
    found = queries.minutes_by_day(MONDAY, 7)
    assert [(one.name, one.skills, one.minutes) for one in found] == [
        ("Ada Ashwick", ("simple", "automatic"), FIVE_DAYS)
    ]


def test_a_house_without_watchmakers_has_no_hours_of_its_own() -> None:
    assert queries.hours_by_week_and_skill(MONDAY, 4) == {}
    assert queries.minutes_by_day(MONDAY, 4) == []


def test_reading_costs_the_same_for_one_watchmaker_and_for_many() -> None:
    in_switzerland()
    bench()
    with CaptureQueriesContext(connection) as one:
        queries.minutes_by_day(MONDAY, 700)
    for number in range(6):
        add_absence(bench(name=f"Bench {number}"), day(number), day(number), AbsenceKind.LEAVE, by=None)
    with CaptureQueriesContext(connection) as many:
        queries.minutes_by_day(MONDAY, 700)

    assert len(one) == len(many) <= 8


def test_another_week_leaves_past_weeks_as_they_were() -> None:
    ada = bench()

    assert keep_week(ada, [240] * 5 + [0, 0], since=day(7), as_of=MONDAY, by=None)

    assert queries.hours_by_week_and_skill(MONDAY, 2)["simple"] == [20, 10]
    with refused("since"):
        keep_week(ada, [0] * 7, since=day(-1), as_of=MONDAY, by=None)


def test_the_same_week_twice_is_written_once() -> None:
    ada = bench()
    keep_week(ada, [240] * 7, since=day(7), as_of=MONDAY, by=None)

    assert not keep_week(ada, [240] * 7, since=day(7), as_of=MONDAY, by=None)
    assert Trail.objects.filter(deed="bench_week").count() == 1


@pytest.mark.parametrize("minutes", [24 * 60 + 15, -15])
def test_a_day_has_no_more_than_24_hours(minutes: int) -> None:
    with refused("weekday_2"):
        keep_week(bench(), [480, 480, minutes, 0, 0, 0, 0], since=day(7), as_of=MONDAY, by=None)


def test_a_week_begins_neither_before_the_first_day_nor_after_the_last() -> None:
    ada = bench(first_day=day(7), last_day=day(20))
    for since in (day(6), day(21)):
        with refused("since"):
            keep_week(ada, FIVE_DAYS, since=since, as_of=MONDAY, by=None)


def test_a_new_skill_takes_its_share_of_the_week() -> None:
    keep_skills(bench(), {"automatic": 75, "chronograph": 25}, since=day(7), as_of=MONDAY, by=None)

    assert queries.hours_by_week_and_skill(MONDAY, 2) == {
        "simple": [20, 0],
        "automatic": [20, 30],
        "chronograph": [0, 10],
    }


def test_a_watchmaker_may_have_no_skill_for_a_time() -> None:
    keep_skills(bench(), {}, since=day(7), as_of=MONDAY, by=None)

    assert queries.hours_by_week_and_skill(MONDAY, 2) == {"simple": [20, 0], "automatic": [20, 0]}


@pytest.mark.parametrize(
    ("skills", "field"),
    [
        ({"simple": 50, "automatic": None}, "share_automatic"),
        ({"simple": 50, "automatic": 60}, "share_simple"),
        ({"simple": 150, "automatic": -50}, "share_simple"),
    ],
)
def test_shares_that_make_no_whole_week_are_refused(skills: dict[str, int | None], field: str) -> None:
    with refused(field):
        keep_skills(bench(), skills, since=day(7), as_of=MONDAY, by=None)


def test_who_is_away_has_no_minutes_until_it_is_taken_back() -> None:
    ada = bench()
    absence = add_absence(ada, day(0), day(1), AbsenceKind.LEAVE, by=None)
    assert queries.minutes_by_day(MONDAY, 3)[0].minutes == [0, 0, 480]

    assert take_back_absence(ada, absence.pk, by=None)
    assert not take_back_absence(ada, absence.pk, by=None)
    assert queries.minutes_by_day(MONDAY, 3)[0].minutes == [480, 480, 480]


def test_absences_that_overlap_are_refused_and_the_same_twice_is_one() -> None:
    ada = bench()
    add_absence(ada, day(0), day(4), AbsenceKind.LEAVE, by=None)
    add_absence(ada, day(0), day(4), AbsenceKind.LEAVE, by=None)
    with refused("first_day"):
        add_absence(ada, day(4), day(8), AbsenceKind.TRAINING, by=None)
    add_absence(ada, day(5), day(8), AbsenceKind.TRAINING, by=None)
    add_absence(bench(name="Nell Fenby"), day(0), day(4), AbsenceKind.LEAVE, by=None)

    assert Absence.objects.count() == 3


def test_an_absence_ends_after_it_begins_and_lies_in_the_time_at_the_bench() -> None:
    ada = bench(last_day=day(30))
    with refused("last_day"):
        add_absence(ada, day(4), day(3), AbsenceKind.LEAVE, by=None)
    with refused("first_day"):
        add_absence(ada, day(31), day(35), AbsenceKind.LEAVE, by=None)


def test_a_watchmaker_needs_a_name_and_an_account_of_their_own() -> None:
    account = StaffFactory(role="watchmaker")
    ada, nell = bench(account=account), bench(name="Nell Fenby")
    with refused("name"):
        bench(name="  ")
    with refused("account"):
        change_watchmaker(nell, name="Nell Fenby", last_day=None, account=account, by=None)
    with refused("last_day"):
        change_watchmaker(nell, name="Nell Fenby", last_day=date(2019, 1, 1), account=None, by=None)
    assert not change_watchmaker(ada, name="Ada  Ashwick", last_day=None, account=account, by=None)


def test_who_leaves_has_hours_until_the_last_day() -> None:
    ada = bench()
    assert change_watchmaker(ada, name="Ada Ashwick", last_day=day(1), account=None, by=None)

    assert queries.minutes_by_day(MONDAY, 3)[0].minutes == [480, 480, 0]
    assert queries.minutes_by_day(day(2), 3) == []


def test_a_closed_workshop_is_closed_for_everybody_until_it_is_opened() -> None:
    bench()
    closure = close_workshop(day(0), day(1), reason="Moving the benches", by=None)
    close_workshop(day(0), day(1), reason="Moving the benches", by=None)
    with refused("first_day"):
        close_workshop(day(1), day(3), reason="", by=None)
    with refused("last_day"):
        close_workshop(day(9), day(8), reason="", by=None)

    assert [queries.is_worked(day(number)) for number in range(3)] == [False, False, True]
    open_workshop(closure.pk, by=None)
    assert queries.is_worked(MONDAY)
    assert not WorkshopClosure.objects.exists()


def test_public_holidays_of_the_canton_are_copied_when_the_place_is_known() -> None:
    # Republic and Canton of Neuchatel, public holidays by law: 1 March (the Republic) is one, in Zurich it is not.
    in_switzerland()
    republic = date(2027, 3, 1)

    assert PublicHoliday.objects.filter(day=republic).exists()
    assert sorted(HolidayYear.objects.values_list("year", flat=True)) == [2026, 2027, 2028, 2029]
    assert not queries.is_worked(republic)
    keep_place(country="CH", subdivision="ZH", time_zone="Europe/Zurich", as_of=MONDAY, by=None)
    assert queries.is_worked(republic)
    assert not queries.is_worked(date(2027, 1, 1))


def test_a_year_that_was_copied_is_the_houses_own() -> None:
    in_switzerland()
    PublicHoliday.objects.filter(day=date(2027, 1, 1)).delete()  # as though a later library no longer knew it

    assert not copy_year(2027, by=None)
    assert queries.is_worked(date(2027, 1, 1))
    assert copy_year(2035, by=None)
    assert PublicHoliday.objects.filter(day=date(2035, 1, 1)).exists()


def test_a_year_beyond_those_copied_is_read_from_the_library_and_nothing_is_written() -> None:
    in_switzerland()
    before = PublicHoliday.objects.count()

    assert not queries.is_worked(date(2034, 8, 1))  # a Tuesday, the Swiss national holiday
    assert PublicHoliday.objects.count() == before


def test_the_desk_works_on_a_holiday_and_adds_one_and_another_place_keeps_both() -> None:
    in_switzerland()
    bench()
    assert work_on_holiday(date(2026, 12, 25), works=True, by=None)
    assert not work_on_holiday(date(2026, 12, 25), works=True, by=None)
    add_holiday(day(1), "Day of the guild", by=None)
    with refused("day"):
        add_holiday(day(1), "Another", by=None)
    keep_place(country="GB", subdivision="ENG", time_zone="Europe/London", as_of=MONDAY, by=None)

    assert queries.is_worked(date(2026, 12, 25))
    assert not queries.is_worked(day(1))


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"country": "XX"}, "country"),
        ({"subdivision": "ENG"}, "subdivision"),
        ({"time_zone": "Europe/Nowhere"}, "time_zone"),
    ],
)
def test_a_place_that_nobody_knows_is_refused(said: dict[str, str], field: str) -> None:
    usual = {"country": "CH", "subdivision": "NE", "time_zone": "Europe/Zurich"}
    with refused(field):
        keep_place(**(usual | said), as_of=MONDAY, by=None)


def test_every_deed_leaves_who_did_it_and_what_was_before() -> None:
    desk = StaffFactory()
    ada = bench(by=desk)
    keep_week(ada, [0] * 7, since=day(7), as_of=MONDAY, by=desk)
    keep_week(ada, FIVE_DAYS, since=day(7), as_of=MONDAY, by=desk)
    add_absence(ada, day(0), day(1), AbsenceKind.AWAY, by=desk)

    rows = list(Trail.objects.filter(subject=f"watchmaker:{ada.pk}").order_by("pk"))
    assert [row.deed for row in rows] == ["add_watchmaker", "bench_week", "bench_week", "absence"]
    assert {row.by for row in rows} == {desk}
    assert rows[2].before == {"since": day(7).isoformat(), "minutes": [0] * 7}
