"""Public holidays and weekends of countries and their regions, from the library that knows them.

Read through queries.py, which has the house's own records first.
"""

from collections.abc import Mapping
from datetime import date
from functools import lru_cache

import holidays

# Their names are read by staff: in English where the library has it, else in the country's own language.
ENGLISH = ("en_GB", "en_US")
SATURDAY = 5


def known_places() -> Mapping[str, list[str]]:
    """Countries (ISO 3166-1 alpha-2) whose public holidays are known, with those parts that have days of their own."""
    return holidays.list_supported_countries(include_aliases=False)


def regions_of(country: str) -> dict[str, str]:
    """The regions of a country whose public holidays are known, by code with their own names; empty for none."""
    country = country.upper()
    if country not in known_places():
        return {}
    named = holidays.country_holidays(country).get_subdivision_aliases()
    return {code: " / ".join(dict.fromkeys(names)) or code for code, names in named.items()}


def is_weekend(country: str, day: date) -> bool:
    """Whether a day is free by the week alone: not where the country works on it in place of another day.

    Saturdays and Sundays where the country is not known.
    """
    known = _of_country(country.upper(), day.year)
    if known is None:
        return day.weekday() >= SATURDAY
    return known.is_weekend(day) and not known.is_working_day(day)


@lru_cache(maxsize=256)
def _of_country(country: str, year: int) -> holidays.HolidayBase | None:
    return holidays.country_holidays(country, years=year) if country in known_places() else None


@lru_cache(maxsize=256)
def holidays_of_year(country: str, subdivision: str, year: int) -> Mapping[date, str]:
    """The public holidays of one year with their names. Empty where the country, or its part, is not known."""
    parts = known_places().get(country)
    if parts is None or (subdivision and subdivision not in parts):
        return {}
    # Without a language the library asks the machine's environment for one.
    languages = holidays.list_localized_countries().get(country, [])
    own = languages[0] if languages else None  # one that the library has no words in needs none
    language = next((one for one in ENGLISH if one in languages), own)
    found = holidays.country_holidays(country, subdiv=subdivision or None, years=year, language=language)
    return dict(sorted(found.items()))
