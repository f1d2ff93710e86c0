"""Readings that a timing machine might have shown at past visits: good after an overhaul, tired some years later."""

import random
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from service_center.book.rules import DoneBy, EntryKind
from service_center.measurements.rules import HORIZONTAL, POSITIONS, Reading, Wind

# The chance that a sheet of such a visit was kept.
KEPT = {EntryKind.OVERHAUL: 0.45, EntryKind.REPAIR: 0.06, EntryKind.TIGHTNESS_CHECK: 0.03}
INSTRUMENT = "Bench 2"


@dataclass(frozen=True, slots=True)
class Visit:
    """A past entry, and the day from which its movement aged: the last overhaul before it, or the sale."""

    entry: str
    kind: EntryKind
    done_by: DoneBy
    done_on: date
    fresh_since: date


def sheet_of(dice: random.Random, visit: Visit) -> list[Reading]:
    """The readings kept of one visit; none for most."""
    if visit.done_by is not DoneBy.OWN or dice.random() >= KEPT.get(visit.kind, 0):
        return []
    years = 0.0 if visit.kind is EntryKind.OVERHAUL else (visit.done_on - visit.fresh_since).days / 365.25
    rate, amplitude = dice.gauss(2.5, 1.2) - 0.5 * years, dice.gauss(298, 6) - 4.5 * years
    beat = abs(dice.gauss(0.1, 0.08)) + 0.03 * years
    full = [_reading(dice, position, Wind.FULL, rate, amplitude, beat) for position in POSITIONS]
    if visit.kind is not EntryKind.OVERHAUL:
        return full
    later = [
        _reading(dice, position, Wind.AFTER_24H, rate - 1.1, amplitude - 26, beat) for position in ("CH", "6H", "9H")
    ]
    return full + later


def _reading(
    dice: random.Random, position: str, wind: Wind, rate: float, amplitude: float, beat: float, *, spread: float = 3
) -> Reading:
    upright = 0 if position in HORIZONTAL else 1
    return Reading(
        position=position,
        wind=wind,
        rate=Decimal(f"{dice.gauss(rate - 1.6 * upright, 1.1):.1f}"),
        amplitude=Decimal(f"{dice.gauss(amplitude - 21 * upright, spread):.0f}"),
        beat_error=Decimal(f"{min(abs(dice.gauss(beat, 0.03)), 2):.2f}"),
    )


class Course(StrEnum):
    """What a piece's readings did over the years."""

    FALLING = "falling"  # steadily, so that a trend meets the limit before the overhaul is due by the rule
    WAVERING = "wavering"  # up and down: no trend can be told
    SHORT = "short"  # sound until the last visit, then below the limit


# How many pieces of each course there are, where that many came often enough.
COURSES = (Course.FALLING,) * 4 + (Course.WAVERING,) * 3 + (Course.SHORT,) * 3
FEWEST_VISITS, LATEST_YEARS = 4, 4.4


def takes_a_course(visits: Sequence[Visit]) -> bool:
    """Whether a piece came to our own workshop often enough since its movement was fresh, and not too late."""
    if len(visits) < FEWEST_VISITS or any(visit.done_by is not DoneBy.OWN for visit in visits):
        return False
    return _years(visits[-1]) < LATEST_YEARS


def sheets_of_a_course(
    dice: random.Random, visits: Sequence[Visit], course: Course
) -> list[tuple[Visit, list[Reading]]]:
    """A sheet for each visit since the movement was fresh."""
    return [
        (visit, _sheet(dice, _amplitude(course, _years(visit), number, last=number == len(visits) - 1)))
        for number, visit in enumerate(visits)
    ]


def _amplitude(course: Course, years: float, number: int, *, last: bool) -> float:
    """In the vertical positions at full wind, degrees."""
    match course:
        case Course.FALLING:
            return 284 - 12.5 * years
        case Course.WAVERING:
            return 266 + (11 if number % 2 else -11)
        case Course.SHORT:
            return 203 if last else 268 - 3 * years


def _sheet(dice: random.Random, upright: float) -> list[Reading]:
    rate, beat, lying = dice.gauss(2, 1), abs(dice.gauss(0.15, 0.05)), upright + 21
    full = [_reading(dice, position, Wind.FULL, rate, lying, beat, spread=1.2) for position in POSITIONS]
    later = [
        _reading(dice, position, Wind.AFTER_24H, rate - 1.2, lying - 27, beat, spread=1.2)
        for position in ("CH", "6H", "9H")
    ]
    return full + later


def _years(visit: Visit) -> float:
    return (visit.done_on - visit.fresh_since).days / 365.25
