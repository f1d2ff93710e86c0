"""`day|written`: a day in full, as the language that is active writes it."""

from datetime import date

from django import template

from service_center.book.days import day_written

register = template.Library()


@register.filter(expects_localtime=True, is_safe=True)
def written(day: date | None) -> str:
    """The day; nothing for none."""
    return day_written(day) if day else ""
