"""Where everything stands in the pictures of a sheet: plain geometry, in units of the view box.

Rate by position is drawn on the watch itself: a circle is the rate of nought, and each vertical position has its mark
at the dial hour that points up in it (ISO 3158), outside the circle where it gains, inside where it loses. The two lying
positions stand beside it on the same scale. Our own design.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import ceil, cos, floor, radians, sin

from service_center.measurements.rules.positions import HORIZONTAL, POSITIONS, VERTICAL, Wind
from service_center.measurements.rules.readings import Reading

Values = Mapping[str, Decimal]

CENTRE, ZERO, REACH = 160.0, 78.0, 54.0
LYING_AT = {"CH": 372.0, "CB": 436.0}
# Scales that a mark may end at, in s/d; beyond the last they go on by tens of it.
SCALES = (5, 10, 20, 30, 60, 120, 300, 600, 1000)


@dataclass(frozen=True, slots=True)
class Spot:
    """One mark: where it stands and what it says."""

    x: float
    y: float
    position: str
    value: Decimal


@dataclass(frozen=True, slots=True)
class Ring:
    """A circle of one rate, and the level of the same rate beside the lying positions."""

    rate: int
    radius: float
    level: float

    @property
    def text(self) -> str:
        return f"{self.rate:+d}".replace("-", "\N{MINUS SIGN}") if self.rate else "0"

    @property
    def label_x(self) -> float:
        """Between the hours, where no mark stands."""
        return round(CENTRE + self.radius * sin(radians(45)) + 3, 1)

    @property
    def label_y(self) -> float:
        """Just outside the circle."""
        return round(CENTRE - self.radius * cos(radians(45)) - 3, 1)


@dataclass(frozen=True, slots=True)
class OnTheDial:
    """Rates of up to two states by position. `outlines` join the vertical marks of a state, where it has three or four."""

    rings: tuple[Ring, ...]
    hours: tuple[Spot, ...]
    first: tuple[Spot, ...]
    second: tuple[Spot, ...]
    outlines: tuple[str, str]
    lying: bool


def rates(readings: Sequence[Reading], wind: Wind) -> dict[str, Decimal]:
    """Rate by position at one wind state, in the order of ISO 3158."""
    return _by_position([(one.position, one.rate) for one in readings if one.wind is wind])


def amplitudes(readings: Sequence[Reading], wind: Wind) -> dict[str, Decimal]:
    """Amplitude by position at one wind state, in the order of ISO 3158."""
    return _by_position([(one.position, one.amplitude) for one in readings if one.wind is wind])


def _by_position(values: Sequence[tuple[str, Decimal | None]]) -> dict[str, Decimal]:
    known = dict(values)
    return {at: value for at in POSITIONS if (value := known.get(at)) is not None}


def on_the_dial(first: Values, second: Values) -> OnTheDial:
    """The picture of one or two states; `second` may be empty. Rates in s/d."""
    greatest = max((abs(rate) for rate in [*first.values(), *second.values()]), default=Decimal(0))
    scale = next((one for one in SCALES if greatest <= one), SCALES[-1])
    unit = REACH / scale

    def spot(position: str, rate: Decimal) -> Spot:
        away = float(max(min(rate, Decimal(scale)), Decimal(-scale))) * unit
        if position in HORIZONTAL:
            return Spot(LYING_AT[position], round(CENTRE - away, 1), position, rate)
        x, y = _towards(int(position.removesuffix("H")), ZERO + away)
        return Spot(x, y, position, rate)

    marks = [tuple(spot(position, rate) for position, rate in values.items()) for values in (first, second)]
    steps = (-scale, 0, scale)
    return OnTheDial(
        rings=tuple(Ring(step, ZERO + step * unit, CENTRE - step * unit) for step in steps),
        hours=tuple(_hour(position) for position in VERTICAL),
        first=marks[0],
        second=marks[1],
        outlines=(_outline(marks[0]), _outline(marks[1])),
        lying=any(position in HORIZONTAL for position in [*first, *second]),
    )


def _towards(hour: int, radius: float) -> tuple[float, float]:
    angle = radians(hour * 30)
    return round(CENTRE + radius * sin(angle), 1), round(CENTRE - radius * cos(angle), 1)


def _hour(position: str) -> Spot:
    x, y = _towards(int(position.removesuffix("H")), ZERO + REACH + 14)
    return Spot(x, y, position, Decimal(0))


def _outline(spots: Sequence[Spot]) -> str:
    upright = sorted((one for one in spots if one.position in VERTICAL), key=lambda one: int(one.position[:-1]))
    return " ".join(f"{one.x},{one.y}" for one in upright) if len(upright) > 2 else ""


LEFT, RIGHT, ROW, TOP = 64.0, 500.0, 30.0, 44.0


@dataclass(frozen=True, slots=True)
class PairRow:
    """One position: where its two values stand on the line, None for one that was not read."""

    position: str
    y: float
    first: Spot | None
    second: Spot | None


@dataclass(frozen=True, slots=True)
class Pairs:
    """Two states of one figure, position by position, on one scale; `bounds` are limits to draw, by their x."""

    width: float
    height: float
    rows: tuple[PairRow, ...]
    ticks: tuple[Spot, ...]
    bounds: tuple[Spot, ...]
    bottom: float


def pairs(first: Values, second: Values, *, step: int, bounds: Sequence[Decimal] = ()) -> Pairs:
    """`step`: a round distance between scale lines, in the figure's unit. Nothing read gives no rows."""
    values = [*first.values(), *second.values()]
    positions = [position for position in POSITIONS if position in first or position in second]
    low = floor(min([*values, *bounds], default=Decimal(0)) / step) * step
    high = ceil(max([*values, *bounds], default=Decimal(0)) / step) * step
    high = high if high > low else low + step
    every = max(1, -(-(high - low) // (step * 8)))

    def spot(position: str, value: Decimal, y: float) -> Spot:
        return Spot(round(LEFT + float(value - low) / (high - low) * (RIGHT - LEFT), 1), y, position, value)

    bottom = TOP + ROW * len(positions)
    return Pairs(
        width=RIGHT + 30,
        height=bottom + 28,
        rows=tuple(
            PairRow(
                position,
                y := TOP + ROW * nth + ROW / 2,
                spot(position, first[position], y) if position in first else None,
                spot(position, second[position], y) if position in second else None,
            )
            for nth, position in enumerate(positions)
        ),
        ticks=tuple(spot("", Decimal(value), bottom) for value in range(low, high + 1, step * every)),
        bounds=tuple(spot("", bound, TOP - 8) for bound in bounds),
        bottom=bottom,
    )
