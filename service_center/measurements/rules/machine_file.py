"""Readings from a timing machine's own file, by a mapping that the house sets up once: columns by name, units, words.

No maker's format is known here. Values are rounded to what a sheet keeps, half to even.
"""

import csv
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import ROUND_HALF_EVEN, Decimal, InvalidOperation

from service_center.measurements.rules.files import LONGEST_CELL, BadFileError, Fault, quoted, text_of
from service_center.measurements.rules.positions import Wind, position_of
from service_center.measurements.rules.readings import Reading, impossible

RATE_UNITS: Mapping[str, Decimal] = {"s/d": Decimal(1), "s/h": Decimal(24), "min/d": Decimal(60)}
BEAT_ERROR_UNITS: Mapping[str, Decimal] = {"ms": Decimal(1), "µs": Decimal("0.001"), "s": Decimal(1000)}
# As fine as a sheet keeps them.
FINEST = {"rate": Decimal("0.1"), "amplitude": Decimal(1), "beat_error": Decimal("0.01")}


@dataclass(frozen=True, slots=True)
class FileMapping:
    """Which column is which figure. An empty column name: the file does not have it. Words are matched in any case."""

    position_column: str
    wind_column: str = ""
    rate_column: str = ""
    amplitude_column: str = ""
    beat_error_column: str = ""
    rate_unit: str = "s/d"
    beat_error_unit: str = "ms"
    decimal_comma: bool = False
    lines_above: int = 0
    position_words: Mapping[str, str] = field(default_factory=dict)
    wind_words: Mapping[str, str] = field(default_factory=dict)

    def columns(self) -> dict[str, str]:
        """Column name by figure, of those the file has."""
        named = {
            "position": self.position_column,
            "wind": self.wind_column,
            "rate": self.rate_column,
            "amplitude": self.amplitude_column,
            "beat_error": self.beat_error_column,
        }
        return {figure: column for figure, column in named.items() if column}


def readings_in(content: bytes, file: str, mapping: FileMapping, *, wind: Wind = Wind.FULL) -> list[Reading]:
    """The readings of a machine's file; `wind` holds where the file has no column for it.

    Rows without any value are left out. Raises BadFileError, naming every line and column at fault; impossible
    readings are among them.
    """
    header, rows = _table(text_of(content, file), file, mapping)
    places = {figure: header.index(column) for figure, column in mapping.columns().items()}
    faults: list[Fault] = []
    readings: list[Reading] = []
    lines: list[int] = []
    for line, cells in rows:
        said = {figure: cells[place].strip() for figure, place in places.items()}
        reading, wrong = _reading(said, mapping, wind)
        faults += [Fault(file, line, mapping.columns()[figure], why) for figure, why in wrong]
        if reading:
            readings.append(reading)
            lines.append(line)
    if not faults:
        faults = [
            Fault(file, lines[one.row], mapping.columns().get(one.field, ""), one.reason)
            for one in impossible(readings)
        ]
    if faults:
        raise BadFileError(faults)
    if not readings:
        raise BadFileError([Fault(file, 1, "", "the file has no readings")])
    return readings


def _reading(said: dict[str, str], mapping: FileMapping, wind: Wind) -> tuple[Reading | None, list[tuple[str, str]]]:
    """One row's reading, None where it has no values; and what is wrong with it, figure by figure."""
    if not any(said.get(figure) for figure in FINEST):
        return None, []
    wrong: list[tuple[str, str]] = []
    position = _word(said["position"], mapping.position_words) or position_of(said["position"])
    if position is None:
        wrong.append(("position", f"{quoted(said['position'])} is no position that the mapping knows"))
    state = _wind(said["wind"], mapping) if "wind" in said else wind
    if state is None:
        wrong.append(("wind", f"{quoted(said['wind'])} is no wind state that the mapping knows"))
    factors = {"rate": RATE_UNITS[mapping.rate_unit], "beat_error": BEAT_ERROR_UNITS[mapping.beat_error_unit]}
    values: dict[str, Decimal | None] = {}
    for figure, finest in FINEST.items():
        text = said.get(figure, "")
        number = _number(text, decimal_comma=mapping.decimal_comma) if text else None
        if text and number is None:
            wrong.append((figure, f"{quoted(text)} is not a number"))
        values[figure] = None if number is None else _rounded(number * factors.get(figure, Decimal(1)), finest)
    if position is None or state is None or wrong:
        return None, wrong
    return Reading(position, state, values["rate"], values["amplitude"], values["beat_error"]), []


def _word(text: str, words: Mapping[str, str]) -> str | None:
    return {word.casefold(): symbol for word, symbol in words.items()}.get(text.casefold())


def _wind(text: str, mapping: FileMapping) -> Wind | None:
    word = _word(text, mapping.wind_words) or text.lower()
    return next((one for one in Wind if one == word), None)


def _number(text: str, *, decimal_comma: bool) -> Decimal | None:
    plain = text.replace("−", "-").removesuffix("°").strip()
    plain = plain.replace(".", "").replace(",", ".") if decimal_comma else plain.replace(",", "")
    try:
        number = Decimal(plain)
    except InvalidOperation:
        return None
    return (
        number
        if number.is_finite() and abs(number) < 10**9 and "_" not in plain and len(plain) <= LONGEST_CELL
        else None
    )


def _rounded(number: Decimal, finest: Decimal) -> Decimal:
    return number.quantize(finest, rounding=ROUND_HALF_EVEN)


Rows = list[tuple[int, list[str]]]


def _table(text: str, file: str, mapping: FileMapping) -> tuple[list[str], Rows]:
    """The header and the rows with their lines. The delimiter is what the header line has most of: tab, semicolon, comma."""
    lines = text.splitlines()[mapping.lines_above :]
    if not lines:
        raise BadFileError([Fault(file, 1, "", f"nothing follows the {mapping.lines_above} lines above the header")])
    delimiter = max("\t;,", key=lines[0].count)
    reader = csv.reader(lines, delimiter=delimiter)
    rows: Rows = []
    try:
        header = [name.strip() for name in next(reader, [])]
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append((mapping.lines_above + reader.line_num, cells))
    except csv.Error as error:
        raise BadFileError(
            [Fault(file, mapping.lines_above + reader.line_num, "", f"not readable: {error}")]
        ) from error
    missing = [column for column in mapping.columns().values() if column not in header]
    if missing:
        found = ", ".join(quoted(name) for name in header[:12])
        reasons = [f"missing column {quoted(name)}; the header has {found}" for name in missing]
        raise BadFileError([Fault(file, mapping.lines_above + 1, "", reason) for reason in reasons])
    short = [
        Fault(file, line, "", f"{len(cells)} cells where the header has {len(header)}")
        for line, cells in rows
        if len(cells) < len(header)
    ]
    if short:
        raise BadFileError(short)
    return header, rows
