"""Benches and what belongs to them."""

from service_center.workshop.calendars.models import (
    Absence,
    HolidayYear,
    PublicHoliday,
    SkillShare,
    Watchmaker,
    WeekdayMinutes,
    WorkshopClosure,
    WorkshopPlace,
)

__all__ = [
    "Absence",
    "HolidayYear",
    "PublicHoliday",
    "SkillShare",
    "Watchmaker",
    "WeekdayMinutes",
    "WorkshopClosure",
    "WorkshopPlace",
]
