"""Public holidays of a boutique's country, from the library that knows them."""

from collections.abc import Mapping
from datetime import date
from functools import lru_cache

import holidays

# Their names are read by staff: in English where the library has it, else in the country's own language.
ENGLISH = ("en_GB", "en_US")


def public_holidays(country: str, first: date, last: date) -> dict[date, str]:
    """The public holidays of a country (ISO 3166 alpha-2) between two days, both included, with their names.

    Empty where the country, or its holidays, are not known.
    """
    found: dict[date, str] = {}
    for year in range(first.year, last.year + 1):
        found |= {day: name for day, name in _of_year(country.upper(), year).items() if first <= day <= last}
    return dict(sorted(found.items()))


@lru_cache(maxsize=256)
def _of_year(country: str, year: int) -> Mapping[date, str]:
    if country not in holidays.list_supported_countries(include_aliases=False):
        return {}
    # Without a language the library asks the machine's environment for one.
    languages = holidays.list_localized_countries().get(country, [])
    own = languages[0] if languages else None  # one that the library has no words in needs none
    language = next((one for one in ENGLISH if one in languages), own)
    return dict(holidays.country_holidays(country, years=year, language=language))
