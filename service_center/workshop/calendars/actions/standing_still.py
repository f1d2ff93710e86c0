"""The days on which the workshop stands still: its closures, and the public holidays of where it stands.

Holidays of a year are copied once and are the house's own from then on: what the library says later moves no day.
"""

from datetime import date
from zoneinfo import available_timezones

from django.db import transaction
from django.utils.translation import gettext as _

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.workshop.calendars.actions.refusing import NotKept, must_be_in_order, said, told
from service_center.workshop.calendars.models import HolidayYear, PublicHoliday, WorkshopClosure, WorkshopPlace
from service_center.workshop.calendars.public_holidays import holidays_of_year, known_places
from service_center.workshop.calendars.rules import Days, at_once

SUBJECT = "workshop:calendar"
# As far as invitations are planned ahead on the pages.
YEARS_AHEAD = 3


@transaction.atomic
def close_workshop(first: date, last: date, *, reason: str, by: Staff | None) -> WorkshopClosure:
    """Close the workshop from a day to a day, both included. The same twice is once. Raises NotKept."""
    days = must_be_in_order(first, last)
    _place()
    known = {Days(one.first_day, one.last_day): one for one in WorkshopClosure.objects.all()}
    if days in known:
        return known[days]
    if other := at_once(days, known):
        raise NotKept(
            "first_day",
            _(
                "The workshop is closed from %(first)s to %(last)s already. Take that back first, or write the other days."
            )
            % {"first": said(other.first), "last": said(other.last)},
        )
    closure = WorkshopClosure.objects.create(first_day=first, last_day=last, reason=reason)
    leave_trail(by=by, deed="close_workshop", subject=SUBJECT, after=told(days) | {"reason": reason})
    return closure


@transaction.atomic
def open_workshop(closure: int, *, by: Staff | None) -> bool:
    """Take a closure back. False where it was taken back already."""
    _place()
    found = WorkshopClosure.objects.filter(pk=closure).first()
    if found is None:
        return False
    before = told(Days(found.first_day, found.last_day)) | {"reason": found.reason}
    leave_trail(by=by, deed="open_workshop", subject=SUBJECT, before=before)
    found.delete()
    return True


@transaction.atomic
def keep_place(*, country: str, subdivision: str, time_zone: str, as_of: date, by: Staff | None) -> bool:
    """Write down where the workshop stands; this year's holidays and those of the next are copied for it.

    Holidays to come of a former place go; past ones, and those that the desk wrote or works on, stay. False where
    nothing changed. Raises NotKept.
    """
    _must_be_a_place(country, subdivision, time_zone)
    found = _place()
    before = _about(found)
    place = WorkshopPlace(only=found.only, country=country, subdivision=subdivision, time_zone=time_zone)
    if before == _about(place):
        return False
    place.save(force_update=True)
    leave_trail(by=by, deed="workshop_place", subject=SUBJECT, before=before, after=_about(place))
    moved = bool(found.country) and (found.country, found.subdivision) != (country, subdivision)
    if moved:
        PublicHoliday.objects.filter(day__gte=as_of, by_house=False, worked=False).delete()
        HolidayYear.objects.filter(year__gte=as_of.year).delete()
    for year in range(as_of.year, as_of.year + YEARS_AHEAD + 1):
        _copy(place, year, since=as_of if moved else date.min, by=by)
    return True


@transaction.atomic
def copy_year(year: int, *, by: Staff | None) -> bool:
    """Copy a year's public holidays into the house's own table. False where they are there. Raises NotKept."""
    place = _place()
    if not place.country:
        raise NotKept("country", _("Write down first where the workshop stands."))
    return _copy(place, year, since=date.min, by=by)


@transaction.atomic
def work_on_holiday(day: date, *, works: bool, by: Staff | None) -> bool:
    """Work on a public holiday, or keep it after all. False where nothing changed, or the day is none.

    The holidays of its year become the house's own with it.
    """
    place = _place()
    if place.country:
        _copy(place, day.year, since=date.min, by=by)
    holiday = PublicHoliday.objects.filter(day=day).first()
    if holiday is None or holiday.worked == works:
        return False
    holiday.worked = works
    holiday.save(update_fields=["worked"])
    leave_trail(by=by, deed="work_on_holiday", subject=SUBJECT, after={"day": day.isoformat(), "works": works})
    return True


@transaction.atomic
def add_holiday(day: date, name: str, *, by: Staff | None) -> PublicHoliday:
    """Write down a public holiday that is not in the table, or under another name. Raises NotKept."""
    name = " ".join(name.split())
    if not name:
        raise NotKept("name", _("Write the holiday's name."))
    place = _place()
    if place.country:
        _copy(place, day.year, since=date.min, by=by)
    known = PublicHoliday.objects.filter(day=day).first()
    if known:
        raise NotKept("day", _("%(day)s is in the table: %(name)s.") % {"day": said(day), "name": known.name})
    holiday = PublicHoliday.objects.create(day=day, name=name, by_house=True)
    leave_trail(by=by, deed="add_holiday", subject=SUBJECT, after={"day": day.isoformat(), "name": name})
    return holiday


def _place() -> WorkshopPlace:
    """The row of the workshop's place, locked: whoever changes these days comes one after the other."""
    WorkshopPlace.objects.get_or_create(only=1, defaults={"country": "", "time_zone": ""})
    return WorkshopPlace.objects.select_for_update(no_key=True).get(only=1)


def _must_be_a_place(country: str, subdivision: str, time_zone: str) -> None:
    places = known_places()
    if country not in places:
        raise NotKept("country", _("No public holidays are known for “%(country)s”.") % {"country": country})
    if subdivision and subdivision not in places[country]:
        parts = ", ".join(places[country]) or "–"
        raise NotKept(
            "subdivision", _("Not a part of this country with days of its own. Known: %(parts)s") % {"parts": parts}
        )
    if time_zone not in available_timezones():
        raise NotKept("time_zone", _("No time zone has this name. One is Europe/Zurich."))


def _copy(place: WorkshopPlace, year: int, *, since: date, by: Staff | None) -> bool:
    if HolidayYear.objects.filter(year=year).exists():
        return False
    HolidayYear.objects.create(year=year, country=place.country, subdivision=place.subdivision)
    of_year = holidays_of_year(place.country, place.subdivision, year)
    PublicHoliday.objects.bulk_create(
        (PublicHoliday(day=day, name=name) for day, name in of_year.items() if day >= since), ignore_conflicts=True
    )
    leave_trail(by=by, deed="copy_holidays", subject=SUBJECT, after={"year": year, "days": len(of_year)})
    return True


def _about(place: WorkshopPlace) -> dict[str, object]:
    return {"country": place.country, "subdivision": place.subdivision, "time_zone": place.time_zone}
