"""The picture of a change: due days by month, before and after, as places on a drawing. The template draws it."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from service_center.intervals.queries.foreseen import Month
from service_center.measurements.rules.axis import round_levels

# A drawing of fixed size; the page scales it. Units are those of its viewBox.
WIDTH, HEIGHT = 960, 276
LEFT, RIGHT, TOP, BOTTOM = 56, 32, 30, 34  # above the bars stands what they count
BAR_SHARE = 0.36  # of a month's width
MOST_STEPS = 4


@dataclass(frozen=True, slots=True)
class Bar:
    """One month: its two bars, each a top and a height, and the words below."""

    word: str
    centre: float
    before_x: float
    after_x: float
    width: float
    before_top: float
    before_height: float
    after_top: float
    after_height: float
    labelled: bool


@dataclass(frozen=True, slots=True)
class Chart:
    """Bars, and lines at round numbers (height on the drawing, and the number as it is written)."""

    width: int
    height: int
    left: int
    right: int
    base: int
    bars: tuple[Bar, ...]
    lines: tuple[tuple[float, str], ...]


def chart_of(months: Sequence[Month]) -> Chart:
    """The bars of some months. Whole numbers stand on the lines; the highest bar stays below the top."""
    most = max((max(month.due_before, month.due_after) for month in months), default=0)
    levels = round_levels(0, most, MOST_STEPS, finest=1)
    base, room = HEIGHT - BOTTOM, HEIGHT - BOTTOM - TOP

    def high(count: float) -> float:
        return round(room * count / levels[-1], 1)

    pitch = (WIDTH - LEFT - RIGHT) / max(1, len(months))
    width = round(pitch * BAR_SHARE, 1)
    bars = []
    for place, month in enumerate(months):
        centre = LEFT + pitch * (place + 0.5)
        before, after = high(month.due_before), high(month.due_after)
        bars.append(
            Bar(
                word=month_word(month),
                centre=round(centre, 1),
                before_x=round(centre - width - 0.5, 1),
                after_x=round(centre + 0.5, 1),
                width=width,
                before_top=round(base - before, 1),
                before_height=before,
                after_top=round(base - after, 1),
                after_height=after,
                labelled=month.first_day is not None and month.first_day.month in {1, 4, 7, 10},
            )
        )
    lines = tuple((round(base - high(level), 1), f"{level:,.0f}") for level in levels)
    return Chart(WIDTH, HEIGHT, LEFT, WIDTH - RIGHT, base, tuple(bars), lines)


def month_word(month: Month) -> str:
    """The month, or what stands for all before."""
    return date_format(month.first_day, "M Y") if month.first_day else _("Before")
