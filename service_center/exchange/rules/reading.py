"""Reading a CSV file as a stream: a few thousand records at a time, however long the file.

UTF-8 with or without a byte order mark; comma or semicolon, told from the header row; quotes as RFC 4180 has them.
What makes the rest of a file unreadable (encoding, quoting, an endless line) is raised as UnreadableError.
"""

import codecs
import csv
import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import BinaryIO

from service_center.exchange.rules.faults import Fault, quoted
from service_center.exchange.rules.files import BookFile

BATCH = 5_000
# The longest record any file may hold is some 25,000 characters; these bounds keep a broken or hostile file small.
LINE_LIMIT = 200_000
RECORD_LIMIT = 400_000
SHOWN_COLUMNS = 50

_OTHER_KINDS = (
    (codecs.BOM_UTF32_LE, "UTF-32 text"),
    (codecs.BOM_UTF32_BE, "UTF-32 text"),
    (codecs.BOM_UTF16_LE, "UTF-16 text"),
    (codecs.BOM_UTF16_BE, "UTF-16 text"),
    (b"PK\x03\x04", "a zip archive or a spreadsheet's own format"),
)


class UnreadableError(Exception):
    """The file, or the rest of it, cannot be read; carries the faults that say why."""

    def __init__(self, *faults: Fault) -> None:
        super().__init__(*(str(fault) for fault in faults))
        self.faults = faults


@dataclass(frozen=True, slots=True)
class Batch:
    """Records with the physical line on which each starts. All have as many cells as the header; `skipped` have not."""

    lines: list[int]
    rows: list[list[str]]
    skipped: list[Fault]


class CsvReader:
    """One open file. `positions` says where in a record each of the file's columns stands, in the order of outside.md."""

    def __init__(self, file: BookFile, raw: BinaryIO) -> None:
        self.file = file
        self._raw = raw
        self._start = self._after_mark()
        self._text = io.TextIOWrapper(raw, encoding="utf-8", newline="")
        self._pending = 0  # characters since the last record ended
        self._before = 0  # lines before the record being read
        header = self._header_line()
        self.delimiter = ";" if header.count(";") > header.count(",") else ","
        self._text.seek(self._start)
        self._rows = csv.reader(self._lines(), delimiter=self.delimiter, strict=True)
        self.header: list[str] = []
        with self._named():
            self.header = next(self._rows, [])
        self._before = self._rows.line_num
        self._pending = 0
        self.positions = self._positions()

    def batches(self) -> Iterator[Batch]:
        """The records after the header, some thousands at a time. Raises UnreadableError where reading must stop."""
        records, width = self._rows, len(self.header)
        lines: list[int] = []
        rows: list[list[str]] = []
        skipped: list[Fault] = []
        before = records.line_num
        with self._named():
            for row in records:
                self._pending = 0
                if len(row) == width:
                    lines.append(before + 1)
                    rows.append(row)
                elif row:  # a blank line is no record
                    said = f"has {len(row)} cells where the header has {width}"
                    skipped.append(Fault(self.file.name, before + 1, "", said))
                self._before = before = records.line_num
                if len(rows) >= BATCH or len(skipped) >= BATCH:
                    yield Batch(lines, rows, skipped)
                    lines, rows, skipped = [], [], []
        yield Batch(lines, rows, skipped)

    def close(self) -> None:
        """Let go of the file without closing it."""
        self._text.detach()

    def _after_mark(self) -> int:
        """Where the text starts, after a byte order mark. Refuses other encodings by their marks."""
        self._raw.seek(0)
        first = self._raw.read(4)
        start = len(codecs.BOM_UTF8) if first.startswith(codecs.BOM_UTF8) else 0
        self._raw.seek(start)
        for mark, kind in _OTHER_KINDS:
            if first.startswith(mark):
                raise UnreadableError(Fault(self.file.name, 1, "", f"is {kind}, not CSV; save it as CSV in UTF-8"))
        return start

    def _header_line(self) -> str:
        try:
            line = self._text.readline(LINE_LIMIT)
        except UnicodeDecodeError:
            raise UnreadableError(_encoding_fault(self.file, self._raw, self._start, [], ",")) from None
        if "\0" in line:
            raise UnreadableError(
                Fault(self.file.name, 1, "", "holds NUL characters: is it UTF-16, or no text? Save it as UTF-8")
            )
        if not line.strip():
            raise UnreadableError(Fault(self.file.name, 1, "", "has no header row"))
        return line

    def _lines(self) -> Iterator[str]:
        """Physical lines, none longer than a person could mean."""
        readline = self._text.readline
        while line := readline(LINE_LIMIT):
            self._pending += len(line)
            if len(line) == LINE_LIMIT and not line.endswith(("\n", "\r")):
                raise csv.Error(f"this line is longer than {LINE_LIMIT:,} characters")
            if self._pending > RECORD_LIMIT:
                raise csv.Error(f"this record is longer than {RECORD_LIMIT:,} characters; is a closing quote missing?")
            yield line

    @contextmanager
    def _named(self) -> Iterator[None]:
        """Whatever stops the reading becomes a fault at its place."""
        try:
            yield
        except UnicodeDecodeError:
            fault = _encoding_fault(self.file, self._raw, self._start, self.header, self.delimiter)
        except csv.Error as error:
            fault = Fault(self.file.name, self._before + 1, "", _plainer(str(error)))
        else:
            return
        raise UnreadableError(fault)

    def _positions(self) -> tuple[int, ...]:
        """Where each column stands. Refuses unknown, missing and doubled columns, each by its name."""
        known = [column.name for column in self.file.columns]
        unknown = [name for name in self.header if name not in known]
        faults = [
            Fault(self.file.name, 1, name or '""', "is not a column of this file") for name in unknown[:SHOWN_COLUMNS]
        ]
        if len(unknown) > SHOWN_COLUMNS:
            faults.append(Fault(self.file.name, 1, "", f"has {len(unknown) - SHOWN_COLUMNS:,} more unknown columns"))
        faults += [
            Fault(self.file.name, 1, name, "this column is missing") for name in known if name not in self.header
        ]
        faults += [
            Fault(self.file.name, 1, name, f"this column is there {self.header.count(name)} times")
            for name in known
            if self.header.count(name) > 1
        ]
        if faults:
            raise UnreadableError(*faults)
        return tuple(self.header.index(name) for name in known)


def _plainer(reason: str) -> str:
    """What the csv module says, as a person can act on it."""
    if reason.startswith("field larger than field limit"):
        return f"a cell is longer than {csv.field_size_limit():,} characters; is a closing quote missing?"
    if reason == "unexpected end of data":
        return "a quoted cell that starts here or later is never closed"
    if "expected after" in reason:
        return "after a closing quote comes neither a delimiter nor the end of the line"
    return reason


def _encoding_fault(file: BookFile, raw: BinaryIO, start: int, header: list[str], delimiter: str) -> Fault:
    """Where the first byte stands that is not UTF-8: read again up to it, since a stream decodes ahead of its lines."""
    raw.seek(start)
    good = _GoodText(raw)
    records = csv.reader(good, delimiter=delimiter)
    cells = 0
    for row in records:
        cells = len(row)
    column = header[cells - 1] if 0 < cells <= len(header) else ""
    after = f" after {quoted(good.before)}" if good.before else ""
    reason = f"is not UTF-8 (byte 0x{good.bad:02X}{after}); save the file as UTF-8"
    return Fault(file.name, records.line_num, column, reason)


class _GoodText:
    """The lines of a file up to the first byte that is not UTF-8, which is shown as one character ending the last line."""

    def __init__(self, raw: BinaryIO) -> None:
        self._raw = raw
        self.bad = 0
        self.before = ""

    def __iter__(self) -> Iterator[str]:
        decoder = codecs.getincrementaldecoder("utf-8")()
        unfinished = ""  # the file's last line may have no end
        while True:
            data = self._raw.readline(4 * LINE_LIMIT)
            try:
                text = unfinished + decoder.decode(data, final=not data)
            except UnicodeDecodeError as error:
                self.bad = error.object[error.start]
                good = unfinished + error.object[: error.start].decode()
                self.before = good.splitlines()[-1][-20:] if good else ""
                yield from io.StringIO(f"{good}?", newline="")
                return
            if not data:
                return
            unfinished = "" if text.endswith("\n") else text
            if not unfinished:
                yield from io.StringIO(text, newline="")
