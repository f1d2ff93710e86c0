"""Which places a boutique offers on a day, and which of them are free (design/letters.md, the owner's side).

A slot is a stretch of a boutique's opening hours in which it receives as many owners at once as it has places; a seat
is one of those places, by number. Wall times are the boutique's own; moments are UTC (reliability.md, B6).
"""

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from hashlib import sha256
from itertools import pairwise
from zoneinfo import ZoneInfo

# From tomorrow on: who serves on a day knows in the evening before who comes.
FIRST_DAY = 1
LAST_DAY = 180


class VisitState(StrEnum):
    """Where a visit stands."""

    BOOKED = "booked"
    CANCELLED = "cancelled"
    CAME = "came"
    DID_NOT_COME = "did_not_come"


class Deed(StrEnum):
    """What was done to a visit, by its owner or by the boutique."""

    BOOKED = "booked"
    MOVED = "moved"
    CANCELLED = "cancelled"
    TAKEN_OUT = "taken_out"  # one of several pieces does not come after all
    MARKED = "marked"


@dataclass(frozen=True, slots=True)
class Hours:
    """One stretch of a weekday (Monday is 0) in which a boutique receives owners, and how many at once."""

    weekday: int
    opens: time
    closes: time
    places: int


@dataclass(frozen=True, slots=True)
class Closed:
    """Days on which a boutique receives nobody, both included."""

    first: date
    last: date
    reason: str


@dataclass(frozen=True, slots=True)
class Slot:
    """A stretch that can be booked. `at`: where the hands stand at the boutique; `starts_at`, `ends_at`: UTC."""

    day: date
    at: time
    starts_at: datetime
    ends_at: datetime
    places: int


@dataclass(frozen=True, slots=True)
class Taken:
    """One seat that somebody has booked, from and to moments in UTC."""

    starts_at: datetime
    ends_at: datetime
    seat: int


@dataclass(frozen=True, slots=True)
class FreeSlot:
    """A slot, and the numbers of its seats that nobody has; lowest first, never empty."""

    slot: Slot
    seats: tuple[int, ...]


def hours_on(
    day: date,
    hours: Iterable[Hours],
    closed: Iterable[Closed],
    *,
    public_holidays: Collection[date],
    opened: Collection[date],
) -> list[Hours]:
    """A day's opening hours, earliest first.

    A closure closes always; a public holiday too, unless the boutique opens on it (`opened`).
    """
    if any(one.first <= day <= one.last for one in closed):
        return []
    if day in public_holidays and day not in opened:
        return []
    return sorted((one for one in hours if one.weekday == day.weekday()), key=lambda one: one.opens)


def slots_on(day: date, hours: Iterable[Hours], zone: ZoneInfo, minutes: int) -> list[Slot]:
    """The slots of a day, one after another from each opening, none beyond closing.

    A wall time that clocks skip is no slot; of one that comes twice the first is meant (PEP 495, fold 0). No slot
    begins before the one before it has ended, whatever clocks do.
    """
    length = timedelta(minutes=minutes)
    found: list[Slot] = []
    for stretch in sorted(hours, key=lambda one: one.opens):
        closing = moment_of(day, stretch.closes, zone)
        for at in _wall_times(stretch, minutes):
            starts_at = moment_of(day, at, zone)
            ends_at = starts_at + length
            skipped = starts_at.astimezone(zone).time() != at
            overlaps = bool(found) and starts_at < found[-1].ends_at
            if not (skipped or overlaps or ends_at > closing):
                found.append(Slot(day, at, starts_at, ends_at, stretch.places))
    return found


def _wall_times(stretch: Hours, minutes: int) -> Iterator[time]:
    first = stretch.opens.hour * 60 + stretch.opens.minute
    last = stretch.closes.hour * 60 + stretch.closes.minute - minutes
    for minute in range(first, last + 1, minutes):
        yield time(minute // 60, minute % 60)


def moment_of(day: date, at: time, zone: ZoneInfo) -> datetime:
    """The moment, in UTC, at which a boutique's clock shows a time of a day, by its zone's rules as they are now."""
    return datetime.combine(day, at, zone).astimezone(UTC)


def free_seats(slot: Slot, taken: Iterable[Taken]) -> tuple[int, ...]:
    """The seats of a slot that can still be booked, lowest first.

    A boutique that has fewer places than when visits were booked keeps them all; it offers a seat again only when
    fewer come than it has places for.
    """
    beside = [one for one in taken if one.starts_at < slot.ends_at and one.ends_at > slot.starts_at]
    seats = {one.seat for one in beside}
    free = [seat for seat in range(1, slot.places + 1) if seat not in seats]
    return tuple(free[: max(0, slot.places - len(beside))])


def free_slots(slots: Iterable[Slot], taken: Sequence[Taken]) -> list[FreeSlot]:
    """The slots with a free seat."""
    return [FreeSlot(slot, seats) for slot in slots if (seats := free_seats(slot, taken))]


def fault_of_hours(hours: Sequence[Hours]) -> str:
    """What is wrong with a week's opening hours, as "overlap" or "order"; empty where nothing is."""
    if any(one.opens >= one.closes for one in hours):
        return "order"
    in_order = sorted(hours, key=lambda one: (one.weekday, one.opens))
    for before, after in pairwise(in_order):
        if before.weekday == after.weekday and after.opens < before.closes:
            return "overlap"
    return ""


def version_of(week: Iterable[Hours]) -> str:
    """A short word that differs where two weeks' opening hours do, whatever their order."""
    in_order = sorted((one.weekday, one.opens, one.closes, one.places) for one in week)
    return sha256(repr(in_order).encode()).hexdigest()[:16]


def bookable_days(today: date) -> tuple[date, date]:
    """The first and the last day that an owner may book on a day, both included."""
    return today + timedelta(days=FIRST_DAY), today + timedelta(days=LAST_DAY)
