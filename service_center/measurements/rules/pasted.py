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

    A line may begin with its position; six lines without one are the six of ISO 3158 in the grid's order. A line that
    says `24h` or `full` after its position is of that wind state. A header line without digits is passed over. Raises
    UnreadableLineError.
    """
    lines = [(number, line) for number, line in enumerate(text.splitlines(), 1) if any(char.isdigit() for char in line)]
    if len(lines) > MOST_LINES:
        raise UnreadableLineError(lines[MOST_LINES][0], f"more than {MOST_LINES} lines")
    found: list[PastedRow] = []
    for nth, (number, line) in enumerate(lines):
        cells = [cell.strip() for cell in _split(line)]
        position = position_of(cells[0])
        if position:
            cells = cells[1:]
        elif nth < len(POSITIONS):
            position = POSITIONS[nth]
        else:
            raise UnreadableLineError(number, "begins with no position, and the six positions are taken")
        said = next((one for one in (Wind.FULL, Wind.AFTER_24H) if cells and cells[0].lower() == one), None)
        if said:
            cells = cells[1:]
        while len(cells) > VALUES and not cells[-1]:
            cells.pop()
        if len(cells) > VALUES:
            raise UnreadableLineError(number, f"{len(cells)} values where a position has {VALUES}")
        found.append(PastedRow(position, said or wind, tuple(cells)))
    return found


def _split(line: str) -> list[str]:
    if "\t" in line:
        return line.split("\t")
    if ";" in line:
        return line.split(";")
    return re.split(r"\s+", line.strip())
