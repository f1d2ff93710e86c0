"""When a letter may leave: nine in the morning where its owner lives."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

MORNING = time(9)
NOON = time(12)
# Where the day begins first it is nine in the morning at 19:00 UTC of the day before (UTC+14).
FIRST_MORNING = timedelta(hours=6)
# A letter that found no sender for so long is late.
LATE_AFTER = timedelta(hours=1)


def morning_of(day: date, zone: ZoneInfo) -> datetime:
    """Nine in the morning of a day in a zone, as a moment in UTC.

    Of two such moments (clocks put back) the first; one that clocks skip is moved on by what they skip: both are
    what `fold=0` means (PEP 495).
    """
    return datetime.combine(day, MORNING, zone).astimezone(UTC)


def in_the_morning(now: datetime, zone: ZoneInfo, is_working_day: Callable[[date], bool]) -> datetime:
    """From when on a letter may leave that is late: now, in the morning of a working day, or else the next such one."""
    here = now.astimezone(zone)
    day = here.date()
    if is_working_day(day) and MORNING <= here.time() < NOON:
        return now
    if here.time() >= MORNING:
        day += timedelta(days=1)
    while not is_working_day(day):
        day += timedelta(days=1)
    return morning_of(day, zone)


def is_late(written_at: datetime, not_before: datetime, now: datetime) -> bool:
    """Whether a letter that was there in time for its morning waits since: nobody came who would have handed it over.

    One that a person had written when its morning was over already, of a day that lies behind, waits for no other.
    """
    return written_at < not_before + LATE_AFTER <= now


def round_day(now: datetime) -> date:
    """The day whose round may run at a moment: that of the first place on earth where its morning is near.

    The round of a day runs from 18:00 UTC of the day before; each letter still waits for its own owner's morning.
    """
    return (now.astimezone(UTC) + FIRST_MORNING).date()


def end_of(day: date) -> datetime:
    """The first moment after a day, UTC."""
    return datetime.combine(day + timedelta(days=1), time(0), UTC)
