"""A picture of the coming weeks: a line a watchmaker, a bar a week, as places on a drawing. The template draws them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

# A drawing of fixed width; the page scales it. Units are those of its viewBox.
WIDTH, NAMES, HEAD, ROW, BAR, GAP = 960, 168, 40, 46, 24, 4


@dataclass(frozen=True, slots=True)
class Line:
    """One watchmaker's weeks in minutes: how many there are, and how many their week usually has."""

    name: str
    minutes: Sequence[int]
    usual: Sequence[int]


@dataclass(frozen=True, slots=True)
class Cell:
    """One week of one watchmaker. `kind`: full, less, none; `top`, `height`: of the filled part of its frame."""

    x: float
    centre: float
    width: float
    frame: float
    top: float
    height: float
    hours: str
    kind: str


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the picture: a watchmaker with cells, or what all have together."""

    name: str
    middle: float
    foot: float
    cells: tuple[Cell, ...]
    together: bool = False


@dataclass(frozen=True, slots=True)
class Picture:
    """The drawing: its size, its lines, and the weeks' names with their Mondays above them."""

    width: int
    height: int
    names: int
    frame: int
    rows: tuple[Row, ...]
    weeks: tuple[tuple[float, str, date], ...]


def picture_of(lines: Sequence[Line], first_monday: date) -> Picture:
    """Draw so many weeks from a Monday on. A frame is as high as the longest usual week; more fills it and no more."""
    weeks = len(lines[0].minutes) if lines else 0
    pitch = (WIDTH - NAMES) / max(1, weeks)
    longest = max((minutes for line in lines for minutes in line.usual), default=0) or 1
    rows = [_row(line, HEAD + number * ROW, pitch, longest) for number, line in enumerate(lines)]
    if len(lines) > 1:
        together = Line(
            "", [sum(some) for some in zip(*(line.minutes for line in lines), strict=True)],
            [sum(some) for some in zip(*(line.usual for line in lines), strict=True)],
        )  # fmt: skip
        rows.append(_row(together, HEAD + len(lines) * ROW, pitch, max(together.usual) or 1, together=True))
    heads = tuple(
        (round(NAMES + pitch * (week + 0.5), 1), f"W{monday.isocalendar().week:02d}", monday)
        for week in range(weeks)
        for monday in [first_monday + timedelta(weeks=week)]
    )
    return Picture(WIDTH, HEAD + len(rows) * ROW + GAP, NAMES, BAR, tuple(rows), heads)


def _row(line: Line, top: float, pitch: float, longest: int, *, together: bool = False) -> Row:
    cells = []
    for week, (minutes, usual) in enumerate(zip(line.minutes, line.usual, strict=True)):
        height = round(BAR * min(1.0, minutes / longest), 1)
        cells.append(
            Cell(
                x=round(NAMES + pitch * week + GAP / 2, 1),
                centre=round(NAMES + pitch * (week + 0.5), 1),
                width=round(pitch - GAP, 1),
                frame=top,
                top=round(top + BAR - height, 1),
                height=height,
                hours=hours_of(minutes),
                kind=kind_of(minutes, usual),
            )
        )
    return Row(line.name, top + BAR / 2, top + BAR + 14, tuple(cells), together)


def kind_of(minutes: int, usual: int) -> str:
    """Whether a week is as usual (`full`), shorter (`less`), or has nothing although it usually has (`none`)."""
    if minutes >= usual:
        return "full"
    return "less" if minutes else "none"


def hours_of(minutes: int) -> str:
    """Hours to a tenth, without a needless one: 38, 7.5."""
    return f"{minutes / 60:.1f}".removesuffix(".0")
