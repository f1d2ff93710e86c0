"""Working days and time zones of owners, from the libraries that know them."""

from collections.abc import Callable
from datetime import date
from functools import lru_cache
from zoneinfo import ZoneInfo

import holidays
from babel.core import get_global
from django.conf import settings

from service_center.letters.rules.mornings import morning_of

SATURDAY = 5


def working_days(country: str) -> Callable[[date], bool]:
    """Whether a day is worked in a country (ISO 3166 alpha-2): neither weekend nor public holiday there.

    Saturdays and Sundays alone are free where the country, or its holidays, are not known.
    """
    return lambda day: day not in _free_days(country.upper(), day.year)


@lru_cache(maxsize=512)
def _free_days(country: str, year: int) -> frozenset[date]:
    known = (
        holidays.country_holidays(country, years=year)
        if country in holidays.list_supported_countries(include_aliases=False)
        else None
    )
    first = date(year, 1, 1).toordinal()
    days = (date.fromordinal(ordinal) for ordinal in range(first, date(year, 12, 31).toordinal() + 1))
    if known is None:
        return frozenset(day for day in days if day.weekday() >= SATURDAY)
    return frozenset(day for day in days if not known.is_working_day(day))


def zone_of_owner(own: str, country: str, boutique: str, day: date) -> ZoneInfo:
    """The zone in whose morning of a day an owner is written to: their own where it is known.

    Otherwise their boutique's, unless it stands in another country than theirs; then one of their country's.
    """
    if (zone := _known(own)) is not None:
        return zone
    zones = get_global("territory_zones").get(country.upper(), [])
    if zones and get_global("zone_aliases").get(boutique, boutique) not in zones:
        return _latest_morning(country.upper(), day)
    return zone_of(boutique)


@lru_cache(maxsize=1_024)
def _latest_morning(country: str, day: date) -> ZoneInfo:
    """The zone of a country in which nine in the morning comes last.

    Then nobody there is written to before nine: in the widest countries it is afternoon or early evening at the other
    end, where the middle one's morning, or the capital's, would be somebody's night.
    """
    zones = [zone for name in get_global("territory_zones")[country] if (zone := _known(name)) is not None]
    return max(zones, key=lambda zone: (morning_of(day, zone), zone.key), default=zone_of())


def zone_of(*names: str) -> ZoneInfo:
    """The first of these time zones that is known; the house's own after them."""
    return _zone(names)


@lru_cache(maxsize=1_024)
def _zone(names: tuple[str, ...]) -> ZoneInfo:
    known = (_known(name) for name in names)
    return next((zone for zone in known if zone is not None), ZoneInfo(settings.TIME_ZONE))


@lru_cache(maxsize=1_024)
def _known(name: str) -> ZoneInfo | None:
    if not name:
        return None
    try:
        return ZoneInfo(name)
    except (KeyError, OSError, ValueError):  # unknown, a folder of zones, a malformed name
        return None
