"""When a visit is, in the language that is active."""

from datetime import date, time

from babel.dates import format_date, format_skeleton
from django.utils.formats import time_format
from django.utils.translation import get_language

from service_center.book.days import with_its_first

# English as the house writes it: the day before the month.
LOCALES = {"en": "en_GB"}


def full_day(day: date) -> str:
    """With its weekday: Friday, 12 June 2026."""
    return with_its_first(format_date(day, "full", _locale()), day)


def short_day(day: date) -> str:
    """For a button: Fri 12 Jun."""
    return with_its_first(format_skeleton("MMMEd", day, locale=_locale()), day)


def clock(at: time) -> str:
    """Hours and minutes."""
    return time_format(at, "H:i")


def _locale() -> str:
    language = (get_language() or "en").split("-")[0]
    return LOCALES.get(language, language)
