"""Pictures of shares over weeks and of ranges by week, as places on a drawing. The templates draw them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import ceil

from service_center.measurements.rules.axis import round_levels
from service_center.planning.rules.weeks import week_name

# Drawings of fixed size; the page scales them. A share's stands beside its numbers, a range's over the whole width.
WIDTH, WIDE, HEIGHT = 640, 960, 252
LEFT, RIGHT, TOP, BOTTOM = 56, 36, 30, 50  # above and below stand what the two axes count
LABELS = 8
MOST_STEPS = 8


@dataclass(frozen=True, slots=True)
class LineChart:
    """Lines (points of a polyline) and a band (of a polygon), empty where there are none; numbers along both sides."""

    width: int
    height: int
    left: int
    right: int
    base: int
    learnt: str
    seen: str
    band: str
    lines: tuple[tuple[float, str], ...]
    words: tuple[tuple[float, str], ...]

    @property
    def middle(self) -> int:
        """Where a word below the lines stands."""
        return (self.left + self.right) // 2


@dataclass(frozen=True, slots=True)
class Range:
    """One week: where it stands, its range from top to bottom, and the mark of what came; `inside`: between them."""

    x: float
    left: float
    width: float
    top: float
    height: float
    came: float
    inside: bool
    word: str


@dataclass(frozen=True, slots=True)
class RangeChart:
    """Ranges by week, and lines at round numbers with their numbers."""

    width: int
    height: int
    left: int
    right: int
    base: int
    ranges: tuple[Range, ...]
    lines: tuple[tuple[float, str], ...]


def share_chart(
    learnt: Sequence[float], seen: Sequence[float], low: Sequence[float], high: Sequence[float]
) -> LineChart:
    """Shares from 0 to 1 at the end of each week, in percent up the side; the first week begins at nothing."""
    most = 100 * max([*learnt, *high, 0.05])
    levels = round_levels(0, most, MOST_STEPS)
    top_number = levels[-1]
    weeks = len(learnt)
    pitch = (WIDTH - LEFT - RIGHT) / weeks

    def at(week: int) -> float:
        return round(LEFT + pitch * week, 1)

    def high_at(share: float) -> float:
        return round(_high(100 * share, top_number), 1)

    def points(shares: Sequence[float]) -> list[str]:
        return [f"{at(week)},{high_at(share)}" for week, share in enumerate([0.0, *shares])] if shares else []

    return LineChart(
        WIDTH, HEIGHT, LEFT, WIDTH - RIGHT, HEIGHT - BOTTOM,
        learnt=" ".join(points(learnt)),
        seen=" ".join(points(seen)),
        band=" ".join([*points(low), *reversed(points(high))]),
        lines=_lines(levels),
        words=tuple((at(week), str(week)) for week in range(0, weeks + 1, max(1, ceil(weeks / LABELS)))),
    )  # fmt: skip


def range_chart(weeks: Sequence[tuple[date, int, int, int, bool]]) -> RangeChart:
    """Weeks as (Monday, low, high, what came, whether inside), oldest first, in pieces."""
    most = float(max(1, *(max(high, came) for _week, _low, high, came, _inside in weeks)))
    levels = round_levels(0, most, MOST_STEPS, finest=1)
    top_number = levels[-1]
    pitch = (WIDE - LEFT - RIGHT) / len(weeks)
    width = round(min(24.0, pitch * 0.6), 1)
    every = ceil(len(weeks) / LABELS)
    ranges = []
    for number, (week, low, high, came, inside) in enumerate(weeks):
        x = round(LEFT + pitch * (number + 0.5), 1)
        top, bottom = round(_high(high, top_number), 1), round(_high(low, top_number), 1)
        ranges.append(
            Range(
                x=x, left=round(x - width / 2, 1), width=width, top=top, height=max(1.5, round(bottom - top, 1)),
                came=round(_high(came, top_number), 1), inside=inside, word="" if number % every else week_name(week),
            )
        )  # fmt: skip
    return RangeChart(WIDE, HEIGHT, LEFT, WIDE - RIGHT, HEIGHT - BOTTOM, tuple(ranges), _lines(levels))


def _high(number: float, top_number: float) -> float:
    return HEIGHT - BOTTOM - (HEIGHT - BOTTOM - TOP) * number / top_number


def _lines(levels: Sequence[float]) -> tuple[tuple[float, str], ...]:
    return tuple((round(_high(level, levels[-1]), 1), f"{level:g}") for level in levels)
