"""The day a kind counts from, and since when a tightness test is owed (due-dates.md, start)."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service_center.book.rules import EntryKind, Tightness
from service_center.intervals.rules.facts import Entry, PieceFacts
from service_center.intervals.rules.months import add_months


class StartFact(StrEnum):
    """Which fact an interval starts from."""

    OVERHAUL = "overhaul"
    PASS = "pass"  # noqa: S105  # a passed test
    SALE = "sale"
    SHELF = "shelf"  # the day of making plus the shelf allowance: oil ages in stock too
    MAKING = "making"


@dataclass(frozen=True, slots=True)
class Start:
    """The day, the fact it comes from, and the history entry's code where there is one."""

    on: date
    fact: StartFact
    entry: str | None = None


class OwedFact(StrEnum):
    """What made a tightness test owed."""

    FAILED = "failed"
    OPENED = "opened"  # the case was opened and no test passed


@dataclass(frozen=True, slots=True)
class Owed:
    """A tightness test owed since the day of an entry."""

    since: date
    entry: str
    fact: OwedFact


def _latest(entries: list[Entry]) -> Entry | None:
    """The latest by day; of one day's entries the greatest code, so that the answer does not hang on their order."""
    return max(entries, key=lambda entry: (entry.done_on, entry.code), default=None)


def overhaul_start(piece: PieceFacts, shelf_months: int) -> Start | None:
    """Latest counting overhaul; else sale, or making plus the shelf allowance if it lay longer; else making; else none."""
    overhaul = _latest([entry for entry in piece.history if entry.kind is EntryKind.OVERHAUL and entry.counts])
    if overhaul:
        return Start(overhaul.done_on, StartFact.OVERHAUL, overhaul.code)
    if piece.sold_on and piece.made_on:
        shelf_ends = add_months(piece.made_on, shelf_months)
        if piece.sold_on > shelf_ends:
            return Start(shelf_ends, StartFact.SHELF)
    return _sale_or_making(piece)


def tightness_start(piece: PieceFacts) -> Start | None:
    """Latest passed test that counts; else the day of sale; else of making; else none."""
    passed = _latest([entry for entry in piece.history if entry.passed])
    if passed:
        return Start(passed.done_on, StartFact.PASS, passed.code)
    return _sale_or_making(piece)


def _sale_or_making(piece: PieceFacts) -> Start | None:
    if piece.sold_on:
        return Start(piece.sold_on, StartFact.SALE)
    if piece.made_on:
        return Start(piece.made_on, StartFact.MAKING)
    return None


def tightness_owed(piece: PieceFacts, start: Start) -> Owed | None:
    """Owed since the earliest entry strictly after the start that opened the case without a passed test, or failed it.

    By anyone, accepted or not. Strictly after: on one day a pass settles the day.
    """
    unsettled = [
        entry
        for entry in piece.history
        if entry.done_on > start.on
        and ((entry.case_opened and not entry.passed) or entry.tightness is Tightness.FAILED)
    ]
    first = min(unsettled, key=lambda entry: (entry.done_on, entry.code), default=None)
    if first is None:
        return None
    return Owed(first.done_on, first.code, owed_because(first.tightness))


def owed_because(tightness: Tightness) -> OwedFact:
    """Whether the entry that left a test owing was a failed test, or an opened case."""
    return OwedFact.FAILED if tightness is Tightness.FAILED else OwedFact.OPENED
