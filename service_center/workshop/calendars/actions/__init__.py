"""What the desk writes down of benches and of the days on which the workshop stands still. Each deed is one transaction."""

from service_center.workshop.calendars.actions.refusing import NotKept
from service_center.workshop.calendars.actions.standing_still import (
    add_holiday,
    close_workshop,
    copy_year,
    keep_place,
    open_workshop,
    work_on_holiday,
)
from service_center.workshop.calendars.actions.watchmakers import (
    add_absence,
    add_watchmaker,
    change_watchmaker,
    keep_skills,
    keep_week,
    take_back_absence,
)

__all__ = [
    "NotKept",
    "add_absence",
    "add_holiday",
    "add_watchmaker",
    "change_watchmaker",
    "close_workshop",
    "copy_year",
    "keep_place",
    "keep_skills",
    "keep_week",
    "open_workshop",
    "take_back_absence",
    "work_on_holiday",
]
