"""Readings by position: what is impossible and refused, what is unlikely and asks for a second look.

Units: rate in seconds a day (plus gains), amplitude in degrees, beat error in milliseconds (half the
difference of the two beats). Values are decimals; None means not read.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TypeGuard

from service_center.measurements.rules.positions import POSITIONS, Wind

# Impossible (design/measurement.md): a balance strikes its own pin before a full turn; beyond 1,000 s/d nothing
# runs that can be timed; and half of the slowest beat in use (18,000 an hour: 200 ms) bounds the beat error.
RATE_BOUND = Decimal(1000)
AMPLITUDE_BOUND = Decimal(360)
BEAT_ERROR_BOUND = Decimal(100)

# Unlikely: the edges of the bands of design/facts.md, 3, with room; common practice.
QUESTIONED_RATE = Decimal(60)
QUESTIONED_AMPLITUDE = (Decimal(150), Decimal(330))
QUESTIONED_BEAT_ERROR = Decimal(3)
QUESTIONED_GAIN_OF_AMPLITUDE = Decimal(10)

FIELDS = ("rate", "amplitude", "beat_error")


@dataclass(frozen=True, slots=True)
class Reading:
    """One position at one wind state."""

    position: str
    wind: Wind
    rate: Decimal | None
    amplitude: Decimal | None
    beat_error: Decimal | None


@dataclass(frozen=True, slots=True)
class Problem:
    """Which field of which reading, and why. `row` counts from 0 in the order the readings were given."""

    row: int
    position: str
    wind: str
    field: str
    reason: str

    @property
    def wind_words(self) -> str:
        return wind_words(Wind(self.wind))


def impossible(readings: Sequence[Reading]) -> list[Problem]:
    """What cannot be: a sheet with any of these is refused. Empty for a sheet that can."""
    found: list[Problem] = []
    seen: set[tuple[str, Wind]] = set()
    for row, reading in enumerate(readings):
        place = (reading.position, reading.wind)
        if reading.position not in POSITIONS:
            found.append(_problem(row, reading, "position", f"{reading.position} is no position of ISO 3158"))
        elif place in seen:
            reason = f"{reading.position} stands twice at {wind_words(reading.wind)}"
            found.append(_problem(row, reading, "position", reason))
        seen.add(place)
        found.extend(_problem(row, reading, field, reason) for field, reason in _impossible_values(reading))
    return found


def _impossible_values(reading: Reading) -> Iterable[tuple[str, str]]:
    values = {field: getattr(reading, field) for field in FIELDS}
    for field, value in values.items():
        if value is not None and not value.is_finite():
            yield field, "is not a number"
    if all(value is None for value in values.values()):
        yield "rate", "a reading needs a rate, an amplitude or a beat error"
    if _known(reading.rate) and abs(reading.rate) > RATE_BOUND:
        yield "rate", f"a rate beyond ±{RATE_BOUND:,} s/d cannot be"
    if _known(reading.amplitude) and reading.amplitude > AMPLITUDE_BOUND:
        yield "amplitude", f"an amplitude above {AMPLITUDE_BOUND}° cannot be"
    if _known(reading.amplitude) and reading.amplitude < 0:
        yield "amplitude", "an amplitude below 0° cannot be"
    if _known(reading.beat_error) and reading.beat_error < 0:
        yield "beat_error", "a beat error below 0 ms cannot be"
    if _known(reading.beat_error) and reading.beat_error >= BEAT_ERROR_BOUND:
        yield "beat_error", f"a beat error of {BEAT_ERROR_BOUND} ms or more cannot be"


def unlikely(readings: Sequence[Reading]) -> list[Problem]:
    """What can be but is rarely so: staff are asked to look again before the sheet is kept."""
    full = {reading.position: reading.amplitude for reading in readings if reading.wind is Wind.FULL}
    return [
        _problem(row, reading, field, reason)
        for row, reading in enumerate(readings)
        for field, reason in _unlikely_values(reading, full.get(reading.position))
    ]


def _unlikely_values(reading: Reading, amplitude_at_full: Decimal | None) -> Iterable[tuple[str, str]]:
    low, high = QUESTIONED_AMPLITUDE
    if _known(reading.rate) and abs(reading.rate) > QUESTIONED_RATE:
        yield "rate", f"{reading.rate:+} s/d is more than ±{QUESTIONED_RATE} s/d"
    if _known(reading.amplitude) and reading.amplitude < low:
        yield "amplitude", f"{reading.amplitude}° is below {low}°"
    if _known(reading.amplitude) and reading.amplitude > high:
        yield "amplitude", f"{reading.amplitude}° is above {high}°: the balance would bank"
    if _known(reading.beat_error) and reading.beat_error > QUESTIONED_BEAT_ERROR:
        yield "beat_error", f"{reading.beat_error} ms is more than {QUESTIONED_BEAT_ERROR} ms"
    if (
        reading.wind is not Wind.FULL
        and _known(reading.amplitude)
        and _known(amplitude_at_full)
        and reading.amplitude > amplitude_at_full + QUESTIONED_GAIN_OF_AMPLITUDE
    ):
        yield "amplitude", f"{reading.amplitude}° is more than at full wind ({amplitude_at_full}°)"


def wind_words(wind: Wind) -> str:
    """A wind state as the bench says it."""
    return {Wind.FULL: "full wind", Wind.AFTER_24H: "24 h", Wind.END: "the end of the reserve"}[wind]


def _known(value: Decimal | None) -> TypeGuard[Decimal]:
    return value is not None and value.is_finite()


def _problem(row: int, reading: Reading, field: str, reason: str) -> Problem:
    return Problem(row, reading.position, reading.wind.value, field, reason)
