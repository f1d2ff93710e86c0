"""Countries as staff call them, from the library that knows them (CLDR)."""

from babel.core import Locale
from django.utils.translation import get_language

from service_center.book.wording import FALLBACK, supported


def name_of_country(code: str) -> str:
    """The name of an ISO 3166 code, `CH` Switzerland; a code that nobody has a name for stands as it is."""
    names = Locale.parse(supported(get_language() or FALLBACK)).territories
    return str(names.get(code.upper(), code))
