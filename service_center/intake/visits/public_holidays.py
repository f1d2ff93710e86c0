"""Public holidays of a boutique's country and its region, from the library that knows them."""

from collections.abc import Mapping
from datetime import date
from functools import lru_cache

import holidays

# Their names are read by staff: in English where the library has it, else in the country's own language.
ENGLISH = ("en_GB", "en_US")


def public_holidays(country: str, first: date, last: date, region: str = "") -> dict[date, str]:
    """The public holidays of a country (ISO 3166 alpha-2) between two days, both included, with their names.

    With a `region` (a code of `regions_of`), that region's too; one that the country does not have counts for nothing.
    Empty where the country, or its holidays, are not known.
    """
    found: dict[date, str] = {}
    for year in range(first.year, last.year + 1):
        of_year = _of_year(country.upper(), region, year)
        found |= {day: name for day, name in of_year.items() if first <= day <= last}
    return dict(sorted(found.items()))


def regions_of(country: str) -> dict[str, str]:
    """The regions of a country whose public holidays are known, by code with their own names; empty for none."""
    country = country.upper()
    if country not in holidays.list_supported_countries(include_aliases=False):
        return {}
    named = holidays.country_holidays(country).get_subdivision_aliases()
    return {code: " / ".join(dict.fromkeys(names)) or code for code, names in named.items()}


@lru_cache(maxsize=256)
def _of_year(country: str, region: str, year: int) -> Mapping[date, str]:
    supported = holidays.list_supported_countries(include_aliases=False)
    if country not in supported:
        return {}
    # Without a language the library asks the machine's environment for one.
    languages = holidays.list_localized_countries().get(country, [])
    own = languages[0] if languages else None  # one that the library has no words in needs none
    language = next((one for one in ENGLISH if one in languages), own)
    subdivision = region if region in supported[country] else None
    return dict(holidays.country_holidays(country, subdiv=subdivision, years=year, language=language))
