"""Countries as an owner chooses them, and the time zone that a country has, from the libraries that know them."""

import unicodedata
from functools import lru_cache

from babel import Locale
from babel.core import get_global

from service_center.book.countries import country_codes


@lru_cache(maxsize=16)
def countries(language: str) -> tuple[tuple[str, str], ...]:
    """ISO 3166 codes and names in a language, by name without regard to accents."""
    names = Locale.parse(language).territories
    known = [(code, name) for code, name in names.items() if code in country_codes()]
    return tuple(sorted(known, key=lambda one: _plain(one[1])))


def zone_in(country: str, *, known: str) -> str:
    """The zone of somebody who is in that country: the known one where the country has it, else its only one."""
    zones = get_global("territory_zones").get(country, [])
    return known if get_global("zone_aliases").get(known, known) in zones else only_zone_of(country)


def only_zone_of(country: str) -> str:
    """A country's time zone, where it has one alone; empty otherwise: then that of the boutique counts."""
    zones = get_global("territory_zones").get(country, [])
    return zones[0] if len(zones) == 1 else ""


def _plain(name: str) -> str:
    return "".join(char for char in unicodedata.normalize("NFKD", name) if not unicodedata.combining(char)).casefold()
