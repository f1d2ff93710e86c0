"""Where everything stands in the chart of a reading across visits: points, limit, line, its interval, and days.

Plain arithmetic; the template draws it and the style sheet colours it. Units are those of the view box.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from service_center.measurements.rules.axis import round_levels
from service_center.measurements.rules.trend import Trend

WIDTH, HEIGHT = 720, 340
LEFT, RIGHT, TOP, BOTTOM = 52, 16, 62, 34
LABEL_ROWS = (18, 38)
MOST_YEARS, MOST_STEPS = 9, 6
# Beyond so many visits their figures would stand on each other; the table has them all.
MOST_FIGURES = 9
# Two figures nearer to each other than this would run into one another.
FIGURE_WIDTH = 34
# A line that meets its limit decades ahead would press the visits into a corner.
FARTHEST_YEARS = 12


@dataclass(frozen=True, slots=True)
class Mark:
    """One thing in the chart: where it stands and what is written beside it; `anchor` is SVG's text-anchor."""

    x: float
    y: float
    text: str
    anchor: str = "middle"
    below: bool = False  # the words stand under the mark, where above it they would run into its neighbour's

    @property
    def text_x(self) -> float:
        """A little away from a vertical line, on the side where the words run."""
        return self.x + (-6 if self.anchor == "end" else 6)

    @property
    def text_y(self) -> float:
        """Just under a level line."""
        return self.y + 16


@dataclass(frozen=True, slots=True)
class Chart:
    """Everything that is drawn. `line` and `band` are empty where the slope cannot be told from none."""

    width: int
    height: int
    left: float
    right: float
    top: float
    bottom: float
    levels: tuple[Mark, ...]
    years: tuple[Mark, ...]
    visits: tuple[Mark, ...]
    figures: bool
    limit: Mark
    line: str
    band: str
    days: tuple[tuple[str, Mark], ...]

    @property
    def plot_width(self) -> float:
        """Of the field within the axes."""
        return self.right - self.left

    @property
    def plot_height(self) -> float:
        """Of the field within the axes."""
        return self.bottom - self.top

    @property
    def tick(self) -> float:
        """Where the small strokes of the years end."""
        return self.bottom + 5


def chart_of(
    *,
    start: date,
    visits: Sequence[tuple[date, float]],
    limit: float,
    limit_text: str,
    trend: Trend | None,
    days: Sequence[tuple[str, date, str]],
    unit: str = "°",
) -> Chart:
    """The chart from the start of the interval on.

    `visits`: a day and a value each, at least one; `unit` stands beside the levels. `trend`: only one whose slope can be told from none. `days`: what
    the style sheet calls each, the day, and what is written above it; at most two.
    """
    last_visit = visits[-1][0]
    farthest = date(min(last_visit.year + FARTHEST_YEARS, date.max.year), 12, 31)
    shown = [(kind, day, text) for kind, day, text in days if start <= day <= farthest]
    last = max([last_visit, *(day for _kind, day, _text in shown)])
    span = max((last - start).days, 365)
    # A first visit at the very start would stand on the axis, its figure among the levels.
    room = span * 0.04 if (visits[0][0] - start).days < span * 0.04 else 0
    ends = (start.toordinal() - room, start.toordinal() + span * 1.04)
    values = [value for _day, value in visits]
    until = max([last_visit, *(day for kind, day, _text in shown if kind == "evidence")])
    low, high = min([*values, limit]), max([*values, limit])
    levels = round_levels(low - (high - low) * 0.12 - 2, high + (high - low) * 0.12 + 2, MOST_STEPS)

    def x(day: float) -> float:
        return round(LEFT + (day - ends[0]) / (ends[1] - ends[0]) * (WIDTH - LEFT - RIGHT), 1)

    def y(value: float) -> float:
        return round(HEIGHT - BOTTOM - (value - levels[0]) / (levels[-1] - levels[0]) * (HEIGHT - TOP - BOTTOM), 1)

    def at(day: date, value: float) -> str:
        return f"{x(day.toordinal())},{y(value)}"

    line = band = ""
    if trend:
        line = f"{at(trend.first, trend.on(trend.first))} {at(until, trend.on(until))}"
        band = _band(trend, until, at)
    return Chart(
        width=WIDTH,
        height=HEIGHT,
        left=LEFT,
        right=WIDTH - RIGHT,
        top=TOP,
        bottom=HEIGHT - BOTTOM,
        levels=tuple(Mark(LEFT - 8, y(level), f"{level:g}{unit}", "end") for level in levels),
        years=tuple(Mark(x(day.toordinal()), HEIGHT - 10, str(day.year)) for day in _years(*ends)),
        visits=_visit_marks([(x(day.toordinal()), y(value), f"{value:g}") for day, value in visits]),
        figures=len(visits) <= MOST_FIGURES,
        limit=Mark(LEFT + 6, y(limit), limit_text, "start"),
        line=line,
        band=band,
        days=tuple(
            (kind, _day_mark(x(day.toordinal()), row, text))
            for row, (kind, day, text) in zip(LABEL_ROWS, shown, strict=False)
        ),
    )


def _visit_marks(places: Sequence[tuple[float, float, str]]) -> tuple[Mark, ...]:
    """The visits, oldest first; of two that stand close together the later has its figure below."""
    marks: list[Mark] = []
    for x, y, text in places:
        close = bool(marks) and x - marks[-1].x < FIGURE_WIDTH and not marks[-1].below
        marks.append(Mark(x, y, text, below=close))
    return tuple(marks)


def _band(trend: Trend, until: date, at: Callable[[date, float], str]) -> str:
    """The interval of the slope, as an outline: it turns about the middle visit, so that there it is one point."""
    middle = date.fromordinal(trend.first.toordinal() + round(trend.middle))
    days = sorted({trend.first, middle, until})
    edges = [(day, trend.between_on(day)) for day in days]
    upper = [at(day, high) for day, (_low, high) in edges]
    lower = [at(day, low) for day, (low, _high) in reversed(edges)]
    return " ".join(upper + lower)


def _day_mark(x: float, row: float, text: str) -> Mark:
    """The words stand on the side where there is room."""
    return Mark(x, row, text, "end" if x > WIDTH * 0.55 else "start")


def _years(first: float, last: float) -> list[date]:
    """The first days of years within, every one or every few."""
    of_first, of_last = (date.fromordinal(int(day)).year for day in (first, last))
    found = [date(year, 1, 1) for year in range(of_first + 1, of_last + 1)]
    every = next(step for step in (1, 2, 5, 10, 20, 50, 100, 1000) if len(found) / step <= MOST_YEARS)
    return [day for day in found if day.year % every == 0]
