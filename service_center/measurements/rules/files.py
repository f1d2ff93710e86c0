"""Readings from a CSV file (outside.md, evaluate_timing and evaluate_chronometer): UTF-8, comma or semicolon."""

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from io import StringIO

from service_center.measurements.rules.chronometer import DAYS
from service_center.measurements.rules.positions import Wind, position_of
from service_center.measurements.rules.readings import RATE_BOUND, Reading, impossible, unlikely

TIMING_COLUMNS = ("position", "wind", "rate", "amplitude", "beat_error")
CHRONOMETER_COLUMNS = ("day", "rate")
WINDS_IN_FILES = (Wind.FULL, Wind.AFTER_24H)
LARGEST_FILE = 1_000_000  # bytes; a sheet of six positions has some 500
LONGEST_CELL = 40


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong. `line` counts from 1; `column` is its name, empty where the line or the file is meant."""

    file: str
    line: int
    column: str
    reason: str

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}"
        return f"{place}:{self.column}: {self.reason}" if self.column else f"{place}: {self.reason}"


class BadFileError(ValueError):
    """The file cannot be used; `faults` says why, place by place."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))


@dataclass(frozen=True, slots=True)
class _Row:
    line: int
    cells: dict[str, str]


def timing_sheet(content: bytes, file: str) -> tuple[list[Reading], list[Fault]]:
    """The readings of a file, and what in it asks for a second look. Raises BadFileError, naming every fault."""
    faults: list[Fault] = []
    readings: list[Reading] = []
    lines: list[int] = []
    for row in _rows(content, file, TIMING_COLUMNS):
        before = len(faults)
        reading = _reading(row, file, faults)
        if reading and len(faults) == before:
            readings.append(reading)
            lines.append(row.line)
    faults += [Fault(file, lines[one.row], one.field, one.reason) for one in impossible(readings)]
    if faults:
        raise BadFileError(sorted(faults, key=lambda fault: fault.line))
    if not readings:
        raise BadFileError([Fault(file, 1, "", "the file has no readings")])
    return readings, [Fault(file, lines[one.row], one.field, one.reason) for one in unlikely(readings)]


def _reading(row: _Row, file: str, faults: list[Fault]) -> Reading | None:
    position = position_of(row.cells["position"])
    if position is None:
        reason = f"{quoted(row.cells['position'])} is no position: CH, CB (or FH), 3H, 6H, 9H, 12H"
        faults.append(Fault(file, row.line, "position", reason))
    wind = next((one for one in WINDS_IN_FILES if one == row.cells["wind"].lower()), None)
    if wind is None:
        faults.append(Fault(file, row.line, "wind", f"{quoted(row.cells['wind'])} is no wind state: full, 24h"))
    rate, amplitude, beat_error = (_number(row, column, file, faults) for column in TIMING_COLUMNS[2:])
    if position is None or wind is None:
        return None
    return Reading(position, wind, rate, amplitude, beat_error)


def chronometer_series(content: bytes, file: str) -> dict[int, Decimal]:
    """Rates by day, 1 to 15; a day without a rate was not read. Raises BadFileError, naming every fault."""
    faults: list[Fault] = []
    rates: dict[int, Decimal] = {}
    seen: set[int] = set()
    for row in _rows(content, file, CHRONOMETER_COLUMNS):
        written = row.cells["day"]
        day = int(written) if written.isascii() and written.isdigit() and len(written) < 3 else 0
        rate = _number(row, "rate", file, faults)
        if day not in DAYS:
            faults.append(Fault(file, row.line, "day", f"{quoted(written)} is no day of the series: 1 to 15"))
        elif day in seen:
            faults.append(Fault(file, row.line, "day", f"day {day} stands twice"))
        if rate is not None and abs(rate) > RATE_BOUND:
            faults.append(Fault(file, row.line, "rate", f"a rate beyond ±{RATE_BOUND:,} s/d cannot be"))
        seen.add(day)
        if rate is not None:
            rates[day] = rate
    if faults:
        raise BadFileError(faults)
    if not rates:
        raise BadFileError([Fault(file, 1, "", "the file has no rates")])
    return rates


def _number(row: _Row, column: str, file: str, faults: list[Fault]) -> Decimal | None:
    """A number with a decimal point (or a comma, in a file with semicolons); empty was not read."""
    text = row.cells[column]
    if not text:
        return None
    try:
        number = Decimal(text.replace(",", "."))
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite() or len(text) > LONGEST_CELL or "_" in text:
        faults.append(Fault(file, row.line, column, f"{quoted(text)} is not a number"))
        return None
    return number


def _rows(content: bytes, file: str, columns: tuple[str, ...]) -> Iterator[_Row]:
    """Rows by column name. Raises BadFileError for what makes the file unreadable as a whole."""
    text = text_of(content, file)
    header_line = text.partition("\n")[0]
    reader = csv.reader(StringIO(text, newline=""), delimiter=";" if ";" in header_line else ",", strict=True)
    try:
        header = [name.strip() for name in next(reader, [])]
        _check_header(header, file, columns)
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) != len(header):
                reason = f"{len(cells)} cells where the header has {len(header)}"
                raise BadFileError([Fault(file, reader.line_num, "", reason)])
            yield _Row(reader.line_num, dict(zip(header, (cell.strip() for cell in cells), strict=True)))
    except csv.Error as error:
        raise BadFileError([Fault(file, reader.line_num, "", f"not readable as CSV: {error}")]) from error


def text_of(content: bytes, file: str) -> str:
    """A small UTF-8 file as text. Raises BadFileError."""
    if len(content) > LARGEST_FILE:
        raise BadFileError([Fault(file, 1, "", f"larger than {LARGEST_FILE:,} bytes")])
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise BadFileError([Fault(file, line, "", f"not UTF-8: {error.reason}")]) from error
    if "\0" in text:
        raise BadFileError([Fault(file, text.count("\n", 0, text.index("\0")) + 1, "", "holds a NUL character")])
    return text


def _check_header(header: list[str], file: str, columns: tuple[str, ...]) -> None:
    unknown = [name for name in header if name not in columns]
    missing = [name for name in columns if name not in header]
    doubled = sorted({name for name in header if header.count(name) > 1})
    reasons = [
        *(f"unknown column {quoted(name)}" for name in unknown),
        *(f'missing column "{name}"' for name in missing),
        *(f"column {quoted(name)} stands twice" for name in doubled),
    ]
    if reasons:
        raise BadFileError([Fault(file, 1, "", reason) for reason in reasons])


def quoted(text: str) -> str:
    """What stood in a file, short and printable."""
    short = text if len(text) <= LONGEST_CELL else f"{text[:LONGEST_CELL]}…"
    shown = short if short.isprintable() else "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in short)
    return f'"{shown}"'
