"""Readings that a timing machine might have shown at past visits: good after an overhaul, tired some years later."""

import random
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

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


def _reading(dice: random.Random, position: str, wind: Wind, rate: float, amplitude: float, beat: float) -> Reading:
    upright = 0 if position in HORIZONTAL else 1
    return Reading(
        position=position,
        wind=wind,
        rate=Decimal(f"{dice.gauss(rate - 1.6 * upright, 1.1):.1f}"),
        amplitude=Decimal(f"{dice.gauss(amplitude - 21 * upright, 3):.0f}"),
        beat_error=Decimal(f"{min(abs(dice.gauss(beat, 0.03)), 2):.2f}"),
    )
