"""Pictures of bench hours by week, as places on a drawing. The templates draw them."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

# A drawing of fixed size; the page scales it. Units are those of its viewBox.
WIDTH, HEIGHT = 960, 220
LEFT, RIGHT, TOP, BOTTOM = 56, 16, 14, 30
BAR_SHARE = 0.72  # of a week's width
LABELS = 9


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
    step = nice_step(max(most, 1.0))
    top_number = step * ceil(max(most, 1.0) / step)
    base, room = HEIGHT - BOTTOM, HEIGHT - BOTTOM - TOP
    pitch = (WIDTH - LEFT - RIGHT) / max(1, len(words))
    width = round(pitch * BAR_SHARE, 2)
    every = ceil(len(words) / LABELS)

    def high(hours: float) -> float:
        return round(base - room * hours / top_number, 1)

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
    lines = tuple((high(step * number), f"{step * number:g}") for number in range(round(top_number / step) + 1))
    return Chart(WIDTH, HEIGHT, LEFT, WIDTH - RIGHT, base, tuple(bars), points, lines)


def nice_step(most: float) -> float:
    """The distance of round numbers (1, 2 or 5 times a power of ten) of which four to ten reach `most`."""
    power = 10.0 ** floor(log10(most / 4))
    return next(power * times for times in (1, 2, 5, 10) if most / (power * times) <= 8)
