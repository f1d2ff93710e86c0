"""Countries as staff call them, and which codes are one, from the library that knows them (CLDR)."""

from functools import cache

from babel.core import Locale, get_global
from django.utils.translation import get_language

from service_center.book.wording import FALLBACK, supported

# Codes of no country that a letter reaches: groups of countries, and names for tests.
NO_COUNTRY = frozenset({"EU", "EZ", "UN", "QO", "XA", "XB", "ZZ"})


def name_of_country(code: str) -> str:
    """The name of an ISO 3166 code, `CH` Switzerland; a code that nobody has a name for stands as it is."""
    names = Locale.parse(supported(get_language() or FALLBACK)).territories
    return str(names.get(code.upper(), code))


@cache
def country_codes() -> frozenset[str]:
    """The codes of ISO 3166-1 alpha-2, those it keeps for places with a post of their own, and `XK`.

    Of the codes that ISO 3166 leaves to its users, this one alone means the same place to everybody.
    """
    codes = map(str, Locale.parse(FALLBACK).territories)
    return frozenset(code for code in codes if len(code) == 2 and code.isalpha()) - NO_COUNTRY


def code_in_its_place(code: str) -> str:
    """The code that is in force for one that never was, or is no longer, such as `GB` for `UK`; empty for any other."""
    others = get_global("territory_aliases").get(code, [])
    return others[0] if len(others) == 1 and others[0] in country_codes() else ""
