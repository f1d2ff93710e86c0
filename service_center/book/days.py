"""A day as the language that is active writes it: one rule for letters, pages, papers and the calendar's words.

French and Italian count the days of a month, but for its first, which is an ordinal: 1er décembre, 1º dicembre
(for French CLDR's ticket CLDR-7408; for Italian common practice, and, from memory, the interinstitutional style guide
of the European Union). Neither Django's formats nor the patterns of CLDR know it: both write 1 décembre.
"""

import re
from datetime import date, datetime

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import get_language

FIRST = {"fr": "1er", "it": "1º"}
# The day's number alone: no year and no other number stands as a single 1 in a day of words.
ONE = re.compile(r"(?<!\d)1(?!\d)")


def day_written(day: date) -> str:
    """In full, the month in words: 12 June 2026. A moment is written as the day that it is in the house."""
    if isinstance(day, datetime) and timezone.is_aware(day):
        day = timezone.localtime(day)
    return with_its_first(date_format(day, "DATE_FORMAT"), day)


def with_its_first(written: str, day: date) -> str:
    """A day that was written with its month in words, mended where it is the first of a month."""
    first = FIRST.get((get_language() or "").split("-")[0])
    return ONE.sub(first, written, count=1) if first and day.day == 1 else written
