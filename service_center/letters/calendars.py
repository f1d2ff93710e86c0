"""Working days and time zones of owners, from the libraries that know them."""

from collections.abc import Callable
from datetime import date
from functools import lru_cache
from zoneinfo import ZoneInfo

import holidays
from django.conf import settings

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


def zone_of(*names: str) -> ZoneInfo:
    """The first of these time zones that is known; the house's own after them."""
    return _zone(names)


@lru_cache(maxsize=1_024)
def _zone(names: tuple[str, ...]) -> ZoneInfo:
    for name in names:
        if name:
            try:
                return ZoneInfo(name)
            except (KeyError, OSError, ValueError):  # unknown, a folder of zones, a malformed name
                continue
    return ZoneInfo(settings.TIME_ZONE)
