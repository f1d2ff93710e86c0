"""Months added to a calendar day. Source: Regulation (EEC, Euratom) No 1182/71, Article 3(2)(c)."""

from calendar import monthrange
from datetime import date


def add_months(day: date, months: int) -> date:
    """The same day number `months` later, in one step; a day that the month lacks becomes its last day.

    29 February + 12 months is 28 February; + 48 months it is 29 February again. OverflowError beyond year 9999.
    """
    years, month_index = divmod(day.month - 1 + months, 12)
    year, month = day.year + years, month_index + 1
    if year > date.max.year:
        raise OverflowError(f"{day} + {months} months lies beyond the calendar")
    return date(year, month, min(day.day, monthrange(year, month)[1]))
