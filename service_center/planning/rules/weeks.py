"""Weeks as ISO 8601 counts them: Monday to Sunday, week 1 holds 4 January."""

import re
from datetime import date, timedelta

WEEK = timedelta(days=7)
WORKING_DAYS = 5


def monday_of(day: date) -> date:
    """The Monday of a day's week."""
    return day - timedelta(days=day.weekday())


def week_name(monday: date) -> str:
    """The week as ISO 8601 writes it, such as 2026-W53."""
    year, week, _ = monday.isocalendar()
    return f"{year}-W{week:02d}"


def week_at(day: date, first: date) -> int:
    """How many weeks a day's week lies after the week that begins on the Monday `first`; negative before it."""
    return (monday_of(day) - first).days // 7


def monday_at(week: int, first: date) -> date:
    """The Monday of a week by its number after the one that begins on `first`."""
    return first + week * WEEK


def monday_named(name: str) -> date | None:
    """The Monday of a week as ISO 8601 writes it; None where no such week is."""
    if not re.fullmatch(r"[0-9]{4}-W[0-9]{2}", name, re.ASCII):
        return None
    try:
        return date.fromisocalendar(int(name[:4]), int(name[6:]), 1)
    except ValueError:
        return None
