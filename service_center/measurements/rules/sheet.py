"""What the readings of one sheet say together. Source of the figures: design/measurement.md; the worked sheet of
design/facts.md, 3 is their check. Sums are decimal, so that a boundary value stays on its side."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from service_center.measurements.rules.positions import HORIZONTAL, POSITIONS, VERTICAL, Wind
from service_center.measurements.rules.readings import Reading


@dataclass(frozen=True, slots=True)
class Extreme:
    """The reading that decided a figure."""

    position: str
    value: Decimal


@dataclass(frozen=True, slots=True)
class WindFigures:
    """One wind state: rates in s/d, amplitude in degrees, beat error in ms. None: the sheet cannot give it."""

    positions: tuple[str, ...]
    mean_rate: Decimal | None
    delta: Decimal | None  # greatest difference between positions; needs two
    horizontal_minus_vertical: Decimal | None
    lowest_amplitude: Extreme | None
    highest_beat_error: Extreme | None
    fastest: Extreme | None
    slowest: Extreme | None


@dataclass(frozen=True, slots=True)
class SheetFigures:
    """A whole sheet. Isochronism: mean rate at 24 h minus at full wind, over the positions read at both."""

    winds: dict[Wind, WindFigures]
    isochronism: Decimal | None
    amplitude_drop: dict[str, Decimal]  # full wind minus 24 h, degrees, by position


def figures_of(readings: Sequence[Reading]) -> SheetFigures:
    """The figures of a sheet without impossible readings (`impossible` is asked first)."""
    full = _by_position(readings, Wind.FULL)
    later = _by_position(readings, Wind.AFTER_24H)
    rates = _both(full, later, "rate")
    amplitudes = _both(full, later, "amplitude")
    return SheetFigures(
        winds={wind: _of_wind(_by_position(readings, wind)) for wind in (Wind.FULL, Wind.AFTER_24H)},
        isochronism=_mean(end - begin for begin, end in rates.values()),
        amplitude_drop={position: begin - end for position, (begin, end) in amplitudes.items()},
    )


def _of_wind(readings: dict[str, Reading]) -> WindFigures:
    rates = _values(readings, "rate")
    fastest = _extreme(rates, highest=True)
    slowest = _extreme(rates, highest=False)
    flat = _mean(rates[position] for position in HORIZONTAL if position in rates)
    upright = _mean(rates[position] for position in VERTICAL if position in rates)
    return WindFigures(
        positions=tuple(readings),
        mean_rate=_mean(rates.values()),
        delta=fastest.value - slowest.value if fastest and slowest and len(rates) > 1 else None,
        horizontal_minus_vertical=flat - upright if flat is not None and upright is not None else None,
        lowest_amplitude=_extreme(_values(readings, "amplitude"), highest=False),
        highest_beat_error=_extreme(_values(readings, "beat_error"), highest=True),
        fastest=fastest,
        slowest=slowest,
    )


def _by_position(readings: Sequence[Reading], wind: Wind) -> dict[str, Reading]:
    """In the order of ISO 3158, whatever order they were taken in."""
    found = {reading.position: reading for reading in readings if reading.wind is wind}
    return {position: found[position] for position in POSITIONS if position in found}


def _values(readings: dict[str, Reading], field: str) -> dict[str, Decimal]:
    values = {position: getattr(reading, field) for position, reading in readings.items()}
    return {position: value for position, value in values.items() if value is not None}


def _both(full: dict[str, Reading], later: dict[str, Reading], field: str) -> dict[str, tuple[Decimal, Decimal]]:
    begin, end = _values(full, field), _values(later, field)
    return {position: (begin[position], end[position]) for position in begin if position in end}


def _mean(values: Iterable[Decimal]) -> Decimal | None:
    given = list(values)
    return sum(given, Decimal(0)) / len(given) if given else None


def _extreme(values: dict[str, Decimal], *, highest: bool) -> Extreme | None:
    """Of equals the first in the order of ISO 3158."""
    if not values:
        return None
    position = (max if highest else min)(values, key=lambda symbol: values[symbol])
    return Extreme(position, values[position])
