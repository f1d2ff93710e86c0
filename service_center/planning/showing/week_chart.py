"""Pictures of bench hours by week, as places on a drawing. The templates draw them."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from service_center.measurements.rules.axis import round_levels

# A drawing of fixed size; the page scales it. Units are those of its viewBox.
WIDTH, HEIGHT = 960, 236
LEFT, RIGHT, TOP, BOTTOM = 56, 16, 30, 30  # above the bars stands what they count
BAR_SHARE = 0.72  # of a week's width
LABELS = 9
MOST_STEPS = 7


@dataclass(frozen=True, slots=True)
class Part:
    """One piece of a bar: its kind (a class of the style sheet), top and height."""

    kind: str
    top: float
    height: float


@dataclass(frozen=True, slots=True)
class Bar:
    """One week: its name, where it stands, its parts from the bottom up, and its word where it has one."""

    name: str
    x: float
    centre: float
    width: float
    parts: tuple[Part, ...]
    word: str


@dataclass(frozen=True, slots=True)
class Chart:
    """Bars, the line of the hours there are (points of a polyline), and lines at round numbers with their numbers."""

    width: int
    height: int
    left: int
    right: int
    base: int
    bars: tuple[Bar, ...]
    capacity: str
    lines: tuple[tuple[float, str], ...]


def chart_of(
    words: Sequence[str], stacks: Sequence[tuple[str, Sequence[float]]], capacity: Sequence[float], most: float
) -> Chart:
    """Weeks with their hours by kind, one on the other; `most` is the highest sum of any chart beside this one."""
    levels = round_levels(0, max(most, 1.0), MOST_STEPS)
    base, room = HEIGHT - BOTTOM, HEIGHT - BOTTOM - TOP
    pitch = (WIDTH - LEFT - RIGHT) / max(1, len(words))
    width = round(pitch * BAR_SHARE, 2)
    every = ceil(len(words) / LABELS)

    def high(hours: float) -> float:
        return round(base - room * hours / levels[-1], 1)

    bars = []
    for week, word in enumerate(words):
        upto, parts = 0.0, []
        for kind, hours in stacks:
            top = high(upto + hours[week])
            parts.append(Part(kind, top, round(high(upto) - top, 1)))
            upto += hours[week]
        centre = LEFT + pitch * (week + 0.5)
        bars.append(
            Bar(word, round(centre - width / 2, 2), round(centre, 1), width, tuple(parts), "" if week % every else word)
        )
    points = " ".join(
        f"{LEFT + pitch * (week + side):.1f},{high(hours)}" for week, hours in enumerate(capacity) for side in (0, 1)
    )
    lines = tuple((high(level), f"{level:,g}") for level in levels)
    return Chart(WIDTH, HEIGHT, LEFT, WIDTH - RIGHT, base, tuple(bars), points, lines)
