"""Lines pasted from a spreadsheet, as the grid without a script takes them."""

import re
from dataclasses import dataclass

from service_center.measurements.rules.positions import POSITIONS, Wind, position_of

VALUES = 3  # rate, amplitude, beat error, in the order of the grid
MOST_LINES = 40


class UnreadableLineError(ValueError):
    """A pasted line that fits no row of the grid; `line` counts from 1."""

    def __init__(self, line: int, reason: str) -> None:
        self.line, self.reason = line, reason
        super().__init__(f"line {line}: {reason}")


@dataclass(frozen=True, slots=True)
class PastedRow:
    """One position's cells as they were written; what they mean is the grid's to say."""

    position: str
    wind: Wind
    cells: tuple[str, ...]


def rows_in(text: str, wind: Wind) -> list[PastedRow]:
    """Rows of position, rate, amplitude and beat error, parted by tabs, semicolons, or several blanks.

    A line may begin with its position; lines without one are the six of ISO 3158 in the grid's order, and a line of
    tabs or semicolons alone is one of them with nothing in it. A line that says `24h` or `full` after its position is
    of that wind state. What stands above the figures and has none is a header, and passed over. Raises
    UnreadableLineError.
    """
    found: list[PastedRow] = []
    stands: dict[tuple[str, Wind], int] = {}
    nth, empty = -1, 0  # which row of the grid; the first empty line since the row before
    for number, line in _under_the_header(text):
        if "\t" not in line and not line.strip():
            empty = empty or number
            continue
        nth += 1
        if nth == MOST_LINES:
            raise UnreadableLineError(number, f"more than {MOST_LINES} lines")
        cells = [cell.strip() for cell in _split(line)]
        position = position_of(cells[0])
        if position:
            cells = cells[1:]
        elif any(cells):
            position = _counted(nth, number, empty if nth else 0)
        empty = 0
        row = _row(position, cells, wind, number)
        if row is None:
            continue
        before = stands.setdefault((row.position, row.wind), number)
        if before != number:
            raise UnreadableLineError(number, f"{row.position} stands in line {before} already")
        found.append(row)
    return found


def _under_the_header(text: str) -> list[tuple[int, str]]:
    """The lines, numbered, without those above the figures down to the last that has words."""
    lines, begin = list(enumerate(text.splitlines(), 1)), 0
    for number, line in lines:
        if any(char.isdigit() for char in line) or position_of(_split(line)[0]):
            break
        if any(char.isalpha() for char in line):
            begin = number
    return lines[begin:]


def _counted(nth: int, number: int, empty: int) -> str:
    """The position of a line that names none: nobody knows whether an empty line before it is one of the six."""
    if empty:
        raise UnreadableLineError(empty, f"is empty, and line {number} names no position")
    if nth >= len(POSITIONS):
        raise UnreadableLineError(number, "begins with no position, and the six positions are taken")
    return POSITIONS[nth]


def _row(position: str | None, cells: list[str], wind: Wind, number: int) -> PastedRow | None:
    """A position's row; None where nothing stands in it."""
    said = next((one for one in (Wind.FULL, Wind.AFTER_24H) if cells and cells[0].lower() == one), None)
    if said:
        cells = cells[1:]
    while len(cells) > VALUES and not cells[-1]:
        cells.pop()
    if len(cells) > VALUES:
        raise UnreadableLineError(number, f"{len(cells)} values where a position has {VALUES}")
    return PastedRow(position, said or wind, tuple(cells)) if position and any(cells) else None


def _split(line: str) -> list[str]:
    if "\t" in line:
        return line.split("\t")
    if ";" in line:
        return line.split(";")
    return re.split(r"\s+", line.strip())
