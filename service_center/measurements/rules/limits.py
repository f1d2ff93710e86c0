"""What a sheet's figures should be, and the verdict on each with the readings that decided it.

The house's limits are defaults to set for each calibre: amplitudes and beat error after the bands of design/facts.md, 3
(sources S18 and S20 there), the rest common practice. Limits are inclusive; None sets no limit on that side.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from service_center.measurements.rules.positions import HORIZONTAL, POSITIONS, VERTICAL, Wind
from service_center.measurements.rules.readings import Reading
from service_center.measurements.rules.sheet import figures_of


@dataclass(frozen=True, slots=True)
class Range:
    """From `low` to `high`, both included."""

    low: Decimal | None = None
    high: Decimal | None = None

    def holds(self, value: Decimal) -> bool:
        return (self.low is None or value >= self.low) and (self.high is None or value <= self.high)


# By figure: rates in s/d, amplitudes in degrees, beat error in ms.
HOUSE_LIMITS: Mapping[str, Range] = {
    "mean_rate": Range(Decimal(-5), Decimal(15)),
    "delta": Range(high=Decimal(12)),
    "delta_up_to_three": Range(high=Decimal(15)),  # a sheet of three positions or fewer
    "horizontal_minus_vertical": Range(Decimal(-12), Decimal(12)),
    "isochronism": Range(Decimal(-10), Decimal(10)),
    "lowest_horizontal_amplitude": Range(low=Decimal(250)),
    "lowest_vertical_amplitude": Range(low=Decimal(240)),
    "lowest_horizontal_amplitude_24h": Range(low=Decimal(220)),
    "lowest_vertical_amplitude_24h": Range(low=Decimal(200)),
    "highest_amplitude": Range(high=Decimal(330)),  # beyond it the balance may strike its own pin
    "greatest_amplitude_drop": Range(high=Decimal(60)),
    "highest_beat_error": Range(high=Decimal("1.0")),
}


@dataclass(frozen=True, slots=True)
class Verdict:
    """One figure against its limits. `value` and `within` are None where the sheet cannot give the figure."""

    figure: str
    value: Decimal | None
    limits: Range
    within: bool | None
    decided_by: tuple[Reading, ...]


Measured = list[tuple[Reading, Decimal]]


@dataclass(frozen=True, slots=True)
class Judging:
    """By what a calibre's sheets are judged: its limits, its positions, and the dial hour where its crown sits."""

    limits: Mapping[str, Range]
    positions: tuple[str, ...] = POSITIONS
    crown_at: int = 3


HOUSE_JUDGING = Judging(HOUSE_LIMITS)
# The sets of design/facts.md, 1: three after the factory's habit, five of ISO 3159, six.
POSITION_SETS: Mapping[int, tuple[str, ...]] = {
    3: ("CH", "6H", "9H"),
    5: ("CH", "CB", "3H", "6H", "9H"),
    6: POSITIONS,
}


def not_read(readings: Sequence[Reading], judging: Judging) -> list[str]:
    """Positions in which the calibre is judged and which have no reading at full wind."""
    read = {one.position for one in readings if one.wind is Wind.FULL}
    return [position for position in judging.positions if position not in read]


def verdicts_on(readings: Sequence[Reading], judging: Judging = HOUSE_JUDGING) -> list[Verdict]:
    """The verdicts on a sheet without impossible readings: always the same figures, in the same order.

    Readings in positions in which the calibre is not judged decide nothing. Figures without a wind state in their name
    are those at full wind; beat error is the highest of both.
    """
    limits = judging.limits
    readings = [one for one in readings if one.position in judging.positions]
    figures = figures_of(readings)
    wind = figures.winds[Wind.FULL]
    rates, later_rates = _measured(readings, Wind.FULL, "rate"), _measured(readings, Wind.AFTER_24H, "rate")
    amplitudes = _measured(readings, Wind.FULL, "amplitude")
    later_amplitudes = _measured(readings, Wind.AFTER_24H, "amplitude")
    beat_errors = [*_measured(readings, Wind.FULL, "beat_error"), *_measured(readings, Wind.AFTER_24H, "beat_error")]
    drops = figures.amplitude_drop
    dropped = max(drops, key=lambda position: drops[position], default="")
    ends = {end.position for end in (wind.fastest, wind.slowest) if end}
    both = {one.position for one, _rate in rates} & {one.position for one, _rate in later_rates}
    delta_limits = limits["delta_up_to_three" if len(rates) <= 3 else "delta"]
    return [
        _verdict("mean_rate", wind.mean_rate, limits["mean_rate"], rates),
        _verdict("delta", wind.delta, delta_limits, _at(rates, ends)),
        _verdict(
            "horizontal_minus_vertical", wind.horizontal_minus_vertical, limits["horizontal_minus_vertical"], rates
        ),
        _verdict("isochronism", figures.isochronism, limits["isochronism"], _at([*rates, *later_rates], both)),
        _extreme("lowest_horizontal_amplitude", _at(amplitudes, HORIZONTAL), limits, highest=False),
        _extreme("lowest_vertical_amplitude", _at(amplitudes, VERTICAL), limits, highest=False),
        _extreme("lowest_horizontal_amplitude_24h", _at(later_amplitudes, HORIZONTAL), limits, highest=False),
        _extreme("lowest_vertical_amplitude_24h", _at(later_amplitudes, VERTICAL), limits, highest=False),
        _extreme("highest_amplitude", amplitudes, limits, highest=True),
        _verdict(
            "greatest_amplitude_drop",
            drops.get(dropped),
            limits["greatest_amplitude_drop"],
            _at([*amplitudes, *later_amplitudes], {dropped}),
        ),
        _extreme("highest_beat_error", beat_errors, limits, highest=True),
    ]


def _measured(readings: Sequence[Reading], wind: Wind, field: str) -> Measured:
    values = [(one, getattr(one, field)) for one in readings if one.wind is wind]
    return [(one, value) for one, value in values if value is not None]


def _at(measured: Measured, positions: Iterable[str]) -> Measured:
    wanted = set(positions)
    return [(one, value) for one, value in measured if one.position in wanted]


def _extreme(figure: str, measured: Measured, limits: Mapping[str, Range], *, highest: bool) -> Verdict:
    """A figure that one reading decides; of equals the one read first."""
    if not measured:
        return _verdict(figure, None, limits[figure], [])
    decisive = (max if highest else min)(measured, key=lambda pair: pair[1])
    return _verdict(figure, decisive[1], limits[figure], [decisive])


def _verdict(figure: str, value: Decimal | None, limits: Range, decided_by: Measured) -> Verdict:
    if value is None:
        return Verdict(figure, None, limits, None, ())
    return Verdict(figure, value, limits, limits.holds(value), tuple(one for one, _value in decided_by))
