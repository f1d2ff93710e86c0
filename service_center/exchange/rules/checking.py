"""Checking records and turning their cells into what the book stores.

A batch is checked column by column: of each column every different text is read once, so that a million
pieces cost what their few thousand different dates and words cost. Free text is looked at in bulk.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from service_center.exchange.rules.cells import Cell, Text
from service_center.exchange.rules.faults import Fault, Faults, quoted
from service_center.exchange.rules.files import BookFile, Column
from service_center.exchange.rules.reading import Batch

Stored: TypeAlias = str | None
REMEMBERED = 50_000

_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")
_CONTROL_BUT_LINES = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")
_TELEPHONE = re.compile(r"[+-]?[0-9][0-9 ()./-]*")
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True, slots=True)
class Checked:
    """What a batch came to: the stored cells, column by column, of the records whose key can be used."""

    lines: Sequence[int]
    columns: list[Sequence[Stored]]


class Checker:
    """Checks one file's records, batch after batch, noting faults and warnings by line and column."""

    def __init__(self, file: BookFile, positions: Sequence[int], faults: Faults, warnings: Faults) -> None:
        self.file = file
        self._positions = positions
        self._faults = faults
        self._warnings = warnings
        self._columns = [_reader_of(column) for column in file.columns]

    def check(self, batch: Batch) -> Checked:
        """The batch's cells as they are stored. A bad cell is noted, and empty in what is returned."""
        found = list(batch.skipped)
        cells = list(zip(*batch.rows, strict=True)) if batch.rows else []
        stored: list[Sequence[Stored]] = []
        for column, read, position in zip(self.file.columns, self._columns, self._positions, strict=True):
            texts = cells[position] if cells else ()
            values, bad, doubtful = read(texts)
            stored.append(values)
            found += [self._fault(batch.lines[at], column.name, reason) for at, reason in bad]
            for at, reason in doubtful:
                self._warnings.add(self._fault(batch.lines[at], column.name, reason))
        found += self._row_faults(batch, cells)
        for fault in sorted(found):
            self._faults.add(fault)
        return _with_keys(batch.lines, stored) if found else Checked(batch.lines, stored)

    def _fault(self, line: int, column: str, reason: str) -> Fault:
        return Fault(self.file.name, line, column, reason)

    def _row_faults(self, batch: Batch, cells: list[tuple[str, ...]]) -> list[Fault]:
        if self.file.check_row is None:
            return []
        names = [column.name for column in self.file.columns]
        in_order = zip(*(cells[position] for position in self._positions), strict=True) if cells else ()
        return [
            self._fault(line, column, reason)
            for line, row in zip(batch.lines, in_order, strict=True)
            for column, reason in self.file.check_row(dict(zip(names, row, strict=True)))
        ]


Found: TypeAlias = list[tuple[int, str]]
ColumnReader: TypeAlias = Callable[[Sequence[str]], tuple[Sequence[Stored], Found, Found]]


def _reader_of(column: Column) -> ColumnReader:
    return _text_reader(column, column.cell) if isinstance(column.cell, Text) else _cell_reader(column, column.cell)


def _cell_reader(column: Column, cell: Cell) -> ColumnReader:
    """Each different text is read once and remembered."""
    remembered: dict[str, Stored] = {}
    reasons: dict[str, str] = {}

    def learn(text: str) -> None:
        remembered[text] = cell.empty
        if not text and column.required:
            reasons[text] = "is empty; it must be known"
        elif text:
            try:
                remembered[text] = cell.read(text)
            except ValueError as error:
                reasons[text] = str(error)

    def read(texts: Sequence[str]) -> tuple[Sequence[Stored], Found, Found]:
        different = set(texts)
        if len(remembered) + len(different) > REMEMBERED:
            remembered.clear()
            reasons.clear()
        for text in different - remembered.keys():
            learn(text)
        bad = [(at, reasons[text]) for at, text in enumerate(texts) if text in reasons] if reasons else []
        return list(map(remembered.__getitem__, texts)), bad, []

    return read


def _text_reader(column: Column, cell: Text) -> ColumnReader:
    """Text is stored as it is; what is wrong with one shows in bulk first, and is then looked for."""
    control = _CONTROL_BUT_LINES if cell.lines else _CONTROL

    def wrong(text: str) -> str:
        if not text:
            return "is empty; it must be known" if column.required else ""
        if len(text) > cell.limit:
            return f"is {len(text):,} characters long; at most {cell.limit:,} fit"
        if found := control.search(text):
            return f"holds a control character (U+{ord(found[0]):04X})"
        if not cell.edges and text != text.strip():
            return f"{quoted(text)} begins or ends with a space"
        return ""

    def read(texts: Sequence[str]) -> tuple[Sequence[Stored], Found, Found]:
        joined = "\x1f".join(texts)
        suspect = (
            max(map(len, texts), default=0) > cell.limit
            or joined.count("\x1f") >= max(len(texts), 1)
            or control.search(joined.replace("\x1f", "")) is not None
            or (column.required and "" in texts)
            or (not cell.edges and list(map(str.strip, texts)) != list(texts))
        )
        bad = [(at, reason) for at, text in enumerate(texts) if (reason := wrong(text))] if suspect else []
        if bad:
            unusable = dict(bad)
            texts = ["" if at in unusable else text for at, text in enumerate(texts)]
        return texts, bad, _formulas(texts, joined, cell)

    return read


def _formulas(texts: Sequence[str], joined: str, cell: Text) -> Found:
    """Cells that a spreadsheet would take for a formula. They are kept as text; whoever opens the file should know."""
    if not (joined.startswith(_FORMULA_STARTS) or any(f"\x1f{start}" in joined for start in _FORMULA_STARTS)):
        return []
    return [
        (at, f"{quoted(text)} looks like a spreadsheet formula; it is kept as text")
        for at, text in enumerate(texts)
        if text.startswith(_FORMULA_STARTS) and not (cell.telephone and _TELEPHONE.fullmatch(text))
    ]


def _with_keys(lines: Sequence[int], stored: list[Sequence[Stored]]) -> Checked:
    """Without the records whose key is bad, so that others are still looked up by theirs."""
    usable = [at for at, key in enumerate(stored[0]) if key] if stored else []
    return Checked([lines[at] for at in usable], [[values[at] for at in usable] for values in stored])
