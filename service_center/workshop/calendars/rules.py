"""Minutes at the benches, by watchmaker and day, by week and skill (design/workshop.md, capacity).

Days are calendar days: a change of the clocks lengthens no bench's day. Minutes are whole, hours are not.
"""

from bisect import bisect_right
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

MINUTES_OF_A_DAY = 24 * 60
WEEK = 7
WHOLE = 100


class AbsenceKind(StrEnum):
    """Why somebody is away, as far as planning may know. Illness is `away`: nothing of health is kept."""

    LEAVE = "leave"
    TRAINING = "training"
    OTHER_WORK = "other_work"
    AWAY = "away"


@dataclass(frozen=True, slots=True)
class Days:
    """From a day to a day, both included."""

    first: date
    last: date

    def hold(self, day: date) -> bool:
        """Whether a day is one of them."""
        return self.first <= day <= self.last

    def meet(self, other: "Days") -> bool:
        """Whether they have a day in common with others."""
        return self.first <= other.last and other.first <= self.last


@dataclass(frozen=True, slots=True)
class WeekFrom:
    """Minutes of each weekday (Monday first) from a day on."""

    since: date
    minutes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class SkillsFrom:
    """The skills that somebody may do from a day on, and which share of the week each gets (together 1, or none)."""

    since: date
    shares: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Bench:
    """One watchmaker: in the house from a day until another (None: still), with weeks and skills in order of their day."""

    id: int
    name: str
    first_day: date
    last_day: date | None
    weeks: tuple[WeekFrom, ...]
    skills: tuple[SkillsFrom, ...]
    absences: tuple[Days, ...] = ()

    def is_here(self, day: date) -> bool:
        """Whether the house has them on a day."""
        return self.first_day <= day and (self.last_day is None or day <= self.last_day)


@dataclass(frozen=True, slots=True)
class StandingStill:
    """The days on which nobody of the workshop works: closures, and public holidays that it keeps."""

    closures: tuple[Days, ...] = ()
    holidays: Collection[date] = frozenset()

    def holds(self, day: date) -> bool:
        """Whether the workshop stands still on a day."""
        return day in self.holidays or any(one.hold(day) for one in self.closures)


def minutes_on(bench: Bench, still: StandingStill, day: date) -> int:
    """Minutes that a watchmaker is at the bench on a day."""
    if not bench.is_here(day) or still.holds(day) or any(one.hold(day) for one in bench.absences):
        return 0
    return usual_minutes_on(bench, day)


def usual_minutes_on(bench: Bench, day: date) -> int:
    """Minutes of a day by the week in force, whoever is away and whatever is closed."""
    at = bisect_right(bench.weeks, day, key=lambda one: one.since)
    return bench.weeks[at - 1].minutes[day.weekday()] if at else 0


def shares_on(bench: Bench, day: date) -> Mapping[str, float]:
    """Which share of a watchmaker's day each of their skills gets; empty where they have none yet."""
    at = bisect_right(bench.skills, day, key=lambda one: one.since)
    return bench.skills[at - 1].shares if at else {}


def minutes_by_day(bench: Bench, still: StandingStill, first: date, days: int) -> list[int]:
    """Minutes of each of so many days from the first on: `minutes_on` of each, found for all of them at once."""
    last = first + timedelta(days=days - 1)
    here = range((max(first, bench.first_day) - first).days, (min(last, bench.last_day or last) - first).days + 1)
    minutes = [0] * days
    for number in here:
        minutes[number] = usual_minutes_on(bench, first + timedelta(days=number))
    for free in (*still.closures, *bench.absences):
        for number in range(max(0, (free.first - first).days), min(days - 1, (free.last - first).days) + 1):
            minutes[number] = 0
    for holiday in still.holidays:
        if first <= holiday <= last:
            minutes[(holiday - first).days] = 0
    return minutes


def minutes_by_week(bench: Bench, still: StandingStill, first_monday: date, weeks: int) -> list[int]:
    """Minutes of each of so many weeks."""
    days = minutes_by_day(bench, still, first_monday, weeks * WEEK)
    return [sum(days[week * WEEK : (week + 1) * WEEK]) for week in range(weeks)]


def hours_by_week_and_skill(
    benches: Iterable[Bench], still: StandingStill, first_monday: date, weeks: int
) -> dict[str, list[float]]:
    """Hours of each week for every skill that one of these watchmakers may do in one of these weeks."""
    minutes: dict[str, list[float]] = {}
    for bench in benches:
        for number in range(weeks * WEEK):
            day = first_monday + timedelta(days=number)
            if not bench.is_here(day):
                continue
            worked = minutes_on(bench, still, day)
            for skill, share in shares_on(bench, day).items():
                minutes.setdefault(skill, [0.0] * weeks)[number // WEEK] += worked * share
    return {skill: [one / 60 for one in by_week] for skill, by_week in minutes.items()}


def is_worked(benches: Sequence[Bench], still: StandingStill, day: date) -> bool:
    """Whether the workshop works on a day: somebody's week has minutes on it. Monday to Friday where it has no benches."""
    if still.holds(day):
        return False
    if not benches:
        return day.weekday() < 5
    return any(one.is_here(day) and usual_minutes_on(one, day) for one in benches)


def shares_of(asked: Mapping[str, int | None]) -> dict[str, float]:
    """The shares of the skills that somebody may do: hundredths as the house wrote them, equal where it wrote none."""
    if all(share is None for share in asked.values()):
        return {skill: 1 / len(asked) for skill in asked}
    return {skill: (share or 0) / WHOLE for skill, share in asked.items()}


def fault_of_shares(asked: Mapping[str, int | None]) -> str:
    """What is wrong with shares in hundredths: "some" lacks one where others have theirs, "sum"; empty where nothing is."""
    given = [share for share in asked.values() if share is not None]
    if given and len(given) < len(asked):
        return "some"
    return "sum" if given and sum(given) != WHOLE else ""


def at_once(days: Days, others: Iterable[Days]) -> Days | None:
    """The first of others that has a day in common with these, if one has."""
    return next((one for one in sorted(others, key=lambda one: one.first) if one.meet(days)), None)
