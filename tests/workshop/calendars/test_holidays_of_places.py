"""Public holidays of any place: the house's own records where it has them, the library's days elsewhere."""

from datetime import date

import pytest

from service_center.workshop.calendars.actions import add_holiday, copy_year, keep_place, work_on_holiday
from service_center.workshop.calendars.models import PublicHoliday
from service_center.workshop.calendars.public_holidays import is_weekend, regions_of
from service_center.workshop.calendars.queries import holidays_at

pytestmark = pytest.mark.django_db

MONDAY = date(2026, 3, 2)


def days(country: str, first: date, last: date, region: str = "") -> dict[date, str]:
    return {day: name for day, name, _worked in holidays_at(country, region, first, last)}


def in_switzerland() -> None:
    keep_place(country="CH", subdivision="NE", time_zone="Europe/Zurich", as_of=MONDAY, by=None)


def test_public_holidays_are_those_of_the_country_whatever_language_the_machine_speaks(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """England 2026 after design/facts.md, 6: 26 December is a Saturday, the 28th its substitute."""
    monkeypatch.setenv("LANGUAGE", "th")
    monkeypatch.setenv("LANG", "th_TH.UTF-8")
    found = days("GB", date(2026, 12, 1), date(2027, 1, 1))
    assert [f"{day:%m-%d}" for day in found] == ["12-25", "12-26", "12-28", "01-01"]
    assert found[date(2026, 12, 25)] == "Christmas Day"
    assert days("XX", date(2026, 1, 1), date(2026, 12, 31)) == {}
    assert days("", date(2026, 1, 1), date(2026, 12, 31)) == {}


def test_a_regions_own_public_holidays_are_known() -> None:
    """St Andrew's Day (Scotland) Act 2007: 30 November, in 2026 a Monday; Feiertagsgesetz, Bavaria: 6 January."""
    november = date(2026, 11, 30)
    assert november in days("GB", november, november, "SCT")
    assert november not in days("GB", november, november, "ENG")
    assert november not in days("GB", november, november)
    epiphany = date(2026, 1, 6)
    assert epiphany in days("DE", epiphany, epiphany, "BY")
    assert epiphany not in days("DE", epiphany, epiphany, "SN")
    assert days("GB", november, november, "BY") == {}, "a region of another country counts for nothing"


def test_where_the_workshop_stands_the_houses_own_records_count() -> None:
    in_switzerland()
    festival, republic = date(2027, 9, 27), date(2027, 3, 1)
    add_holiday(festival, "Vintage festival", by=None)
    PublicHoliday.objects.filter(day=republic).delete()  # as though a later library no longer knew it
    work_on_holiday(date(2027, 8, 1), works=True, by=None)

    assert days("ch", festival, festival, "NE") == {festival: "Vintage festival"}
    assert days("CH", republic, republic, "NE") == {}
    assert holidays_at("CH", "NE", date(2027, 8, 1), date(2027, 8, 1)) == [(date(2027, 8, 1), "National Day", True)]


def test_other_places_and_years_that_were_not_copied_come_from_the_library() -> None:
    in_switzerland()
    festival, republic = date(2027, 9, 27), date(2027, 3, 1)
    add_holiday(festival, "Vintage festival", by=None)

    assert days("CH", festival, festival, "ZH") == {}
    assert days("CH", republic, republic, "ZH") == {}
    assert days("GB", festival, festival) == {}
    new_year = date(2035, 1, 1)
    assert new_year in days("CH", new_year, new_year, "NE")
    copy_year(2035, by=None)
    PublicHoliday.objects.filter(day=new_year).delete()
    assert days("CH", new_year, new_year, "NE") == {}


def test_holidays_of_two_years_cost_two_statements(django_assert_max_num_queries) -> None:
    in_switzerland()
    with django_assert_max_num_queries(2):
        assert len(days("CH", date(2029, 12, 25), date(2030, 1, 1), "NE")) == 2


def test_the_weekend_is_the_countrys_own() -> None:
    """Israel rests on Friday and Saturday; China worked on Saturday 14 February 2026 before its spring festival (State Council)."""
    friday, saturday, sunday = (date(2026, 6, number) for number in (5, 6, 7))
    assert [is_weekend("IL", day) for day in (friday, saturday, sunday)] == [True, True, False]
    assert [is_weekend("GB", day) for day in (friday, saturday, sunday)] == [False, True, True]
    assert [is_weekend("XX", day) for day in (friday, saturday, sunday)] == [False, True, True]
    assert not is_weekend("CN", date(2026, 2, 14))


def test_regions_are_those_of_the_country_by_their_own_names() -> None:
    assert regions_of("ch")["GE"] == "Genève"
    assert "BY" in regions_of("DE")
    assert (regions_of("XX"), regions_of("")) == ({}, {})
