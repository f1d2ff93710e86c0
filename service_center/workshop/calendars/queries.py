"""Reading the benches and their days, each in a number of statements that does not grow with the benches."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from service_center.workshop.calendars import rules
from service_center.workshop.calendars.models import (
    Absence,
    HolidayYear,
    PublicHoliday,
    SkillShare,
    Watchmaker,
    WeekdayMinutes,
    WorkshopClosure,
    WorkshopPlace,
)
from service_center.workshop.calendars.public_holidays import holidays_of_year, known_places
from service_center.workshop.calendars.rules import Bench, Days, SkillsFrom, StandingStill, WeekFrom


@dataclass(frozen=True, slots=True)
class BenchMinutes:
    """A watchmaker's minutes day by day. `skills`: those they may do on the first of these days that has them here."""

    id: int
    name: str
    skills: tuple[str, ...]
    minutes: list[int]


def minutes_by_day(first: date, days: int) -> list[BenchMinutes]:
    """The minutes of every watchmaker who is in the house on one of so many days, by name. Eight statements at most."""
    last = first + timedelta(days=days - 1)
    still, found = standing_still(first, last), []
    for bench in benches(first, last):
        skills = rules.shares_on(bench, max(first, bench.first_day))
        found.append(BenchMinutes(bench.id, bench.name, tuple(skills), rules.minutes_by_day(bench, still, first, days)))
    return found


def hours_by_week_and_skill(first_monday: date, weeks: int) -> dict[str, list[float]]:
    """Bench hours of so many weeks for each skill that a watchmaker has in them. Eight statements at most."""
    last = first_monday + timedelta(days=7 * weeks - 1)
    people = benches(first_monday, last)
    if not people:
        return {}
    return rules.hours_by_week_and_skill(people, standing_still(first_monday, last), first_monday, weeks)


def skills_of(account: int, day: date) -> frozenset[str] | None:
    """The skills of whoever signs in with an account; None where they have no bench on that day. Three statements."""
    pk = Watchmaker.objects.filter(account=account).values_list("pk", flat=True).first()
    if pk is None:
        return None
    found = next((bench for bench in benches(day, day) if bench.id == pk), None)
    return frozenset(rules.shares_on(found, day)) if found else None


def away_until(accounts: Iterable[int], day: date) -> dict[int, date]:
    """Of those who sign in with these accounts, who is away on a day, and the last day of it. One statement."""
    rows = Absence.objects.filter(watchmaker__account__in=list(accounts), first_day__lte=day, last_day__gte=day)
    return dict(rows.order_by("last_day").values_list("watchmaker__account", "last_day"))


def is_worked(day: date) -> bool:
    """Whether the workshop works on a day. Eight statements at most; for many days take the rules over one reading."""
    return rules.is_worked(benches(day, day), standing_still(day, day), day)


def benches(first: date, last: date) -> list[Bench]:
    """The watchmakers who are in the house on one of these days, with all that decides their minutes. Four statements."""
    here = Watchmaker.objects.filter(first_day__lte=last).exclude(last_day__lt=first).order_by("name", "pk")
    people = list(here.values_list("pk", "name", "first_day", "last_day"))
    if not people:
        return []
    ids = [row[0] for row in people]
    weeks, skills = _weeks(ids), _skills(ids)
    absences: dict[int, list[Days]] = defaultdict(list)
    away = Absence.objects.filter(watchmaker__in=ids, first_day__lte=last, last_day__gte=first).order_by("first_day")
    for who, *days in away.values_list("watchmaker", "first_day", "last_day"):
        absences[who].append(Days(*days))
    return [
        Bench(pk, name, since, until, weeks.get(pk, ()), skills.get(pk, ()), tuple(absences[pk]))
        for pk, name, since, until in people
    ]


def _weeks(ids: Iterable[int]) -> dict[int, tuple[WeekFrom, ...]]:
    rows = WeekdayMinutes.objects.filter(watchmaker__in=ids).order_by("watchmaker", "in_force_from", "weekday")
    by_day: dict[tuple[int, date], list[int]] = defaultdict(lambda: [0] * rules.WEEK)
    for who, since, weekday, minutes in rows.values_list("watchmaker", "in_force_from", "weekday", "minutes"):
        by_day[who, since][weekday] = minutes
    found: dict[int, tuple[WeekFrom, ...]] = defaultdict(tuple)
    for (who, since), of_week in by_day.items():
        found[who] += (WeekFrom(since, tuple(of_week)),)
    return found


def _skills(ids: Iterable[int]) -> dict[int, tuple[SkillsFrom, ...]]:
    rows = SkillShare.objects.filter(watchmaker__in=ids).order_by("watchmaker", "in_force_from", "pk")
    by_day: dict[tuple[int, date], dict[str, int | None]] = defaultdict(dict)
    for who, since, skill, may, share in rows.values_list("watchmaker", "in_force_from", "skill", "may", "share"):
        asked = by_day[who, since]
        if may:
            asked[skill] = share
    found: dict[int, tuple[SkillsFrom, ...]] = defaultdict(tuple)
    for (who, since), asked in by_day.items():
        found[who] += (SkillsFrom(since, rules.shares_of(asked)),)
    return found


def standing_still(first: date, last: date) -> StandingStill:
    """The days between two, both included, on which the workshop stands still. Four statements at most."""
    closures = WorkshopClosure.objects.filter(first_day__lte=last, last_day__gte=first).order_by("first_day")
    return StandingStill(
        tuple(Days(*row) for row in closures.values_list("first_day", "last_day")),
        frozenset(day for day, _name, worked in public_holidays(first, last) if not worked),
    )


def holidays_at(country: str, region: str, first: date, last: date) -> list[tuple[date, str, bool]]:
    """Public holidays of a place between two days, both included: the day, its name, whether the workshop works on it.

    Where the workshop stands, the years that were copied are the house's own records; those of other years and places
    come from the library. A `region` that the country does not have counts for nothing. Two statements at most.
    """
    country = country.upper()
    region = region if region in known_places().get(country, []) else ""
    years = range(first.year, last.year + 1)
    copied = HolidayYear.objects.filter(year__in=years, country=country, subdivision=region)
    own_years = set(copied.values_list("year", flat=True)) if country else set()
    found: list[tuple[date, str, bool]] = []
    if own_years:
        own = PublicHoliday.objects.filter(day__gte=first, day__lte=last).values_list("day", "name", "worked")
        found = [row for row in own if row[0].year in own_years]
    for year in years:
        if year not in own_years:
            of_year = holidays_of_year(country, region, year)
            found += [(day, name, False) for day, name in of_year.items() if first <= day <= last]
    return sorted(found)


def stands_at(country: str, region: str) -> bool:
    """Whether the workshop stands in a region of a country, so that its holidays are those of the place. One statement."""
    place = WorkshopPlace.objects.first()
    return bool(country) and place is not None and (place.country, place.subdivision) == (country.upper(), region)


def public_holidays(first: date, last: date) -> list[tuple[date, str, bool]]:
    """Public holidays between two days, both included: the day, its name, whether it is worked. Three statements at most.

    Those of a copied year are the house's own records; of a year that was not copied yet they come from the library.
    """
    own = PublicHoliday.objects.filter(day__gte=first, day__lte=last).values_list("day", "name", "worked")
    found = {day: (day, name, worked) for day, name, worked in own}
    years = set(range(first.year, last.year + 1))
    missing = years - set(HolidayYear.objects.filter(year__in=years).values_list("year", flat=True))
    place = WorkshopPlace.objects.first() if missing else None
    if place and place.country:
        for year in missing:
            for day, name in holidays_of_year(place.country, place.subdivision, year).items():
                if first <= day <= last:
                    found.setdefault(day, (day, name, False))
    return [found[day] for day in sorted(found)]
