"""Public holidays of the workshop's country and region, from the library that knows them."""

from collections.abc import Mapping
from datetime import date
from functools import lru_cache

import holidays

# Their names are read by staff: in English where the library has it, else in the country's own language.
ENGLISH = ("en_GB", "en_US")


def known_places() -> Mapping[str, list[str]]:
    """Countries (ISO 3166-1 alpha-2) whose public holidays are known, with those parts that have days of their own."""
    return holidays.list_supported_countries(include_aliases=False)


@lru_cache(maxsize=64)
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
