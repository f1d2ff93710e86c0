"""Due dates of one piece, and their state on a day (due-dates.md)."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from service_center.book.rules import ServiceKind, Status
from service_center.intervals.rules.choosing import Rule, rule_for
from service_center.intervals.rules.evidence import (
    Evidence,
    EvidenceFact,
    reading_that_falls_short,
    trend_to_a_limit,
)
from service_center.intervals.rules.facts import PieceFacts
from service_center.intervals.rules.months import add_months
from service_center.intervals.rules.start import Owed, Start, overhaul_start, tightness_owed, tightness_start
from service_center.measurements.rules.service_limits import COMMON_PRACTICE, ServiceLimits


class State(StrEnum):
    """How things stand on a day; the first that fits, in this order."""

    HELD = "held"
    NO_START = "no_start"
    OWED = "owed"
    NOT_YET = "not_yet"
    IN_WINDOW = "in_window"
    DUE = "due"
    OVERDUE = "overdue"


@dataclass(frozen=True, slots=True)
class Dates:
    """The first day on which an invitation makes sense, the recommended day, and the day from which it is overdue."""

    opens_on: date
    due_on: date
    closes_on: date


@dataclass(frozen=True, slots=True)
class Due:
    """One kind's dates. Without a start there are none. `held` is why nobody is invited, or empty.

    `by_rule` is what the rule alone gives, whatever is owed and whatever was measured.
    """

    kind: ServiceKind
    start: Start | None
    rule: Rule
    opens_on: date | None
    due_on: date | None
    closes_on: date | None
    owed: Owed | None
    held: str
    by_rule: Dates | None = None
    evidence: Evidence | None = None

    @property
    def owed_since(self) -> date | None:
        """Since when it cannot wait: a tightness test is owed, or a reading fell short; None where it can."""
        if self.owed:
            return self.owed.since
        short = self.evidence is not None and self.evidence.fact is EvidenceFact.READING
        return self.evidence.on if self.evidence and short else None


def due_dates(
    piece: PieceFacts,
    rules: Iterable[Rule],
    as_of: date,
    *,
    shelf_months: int,
    limits: ServiceLimits = COMMON_PRACTICE,
) -> list[Due]:
    """What is due for a piece from the facts known on `as_of`: one `Due` a kind that applies, overhaul first."""
    rules = tuple(rules)
    known = piece.known_on(as_of)
    found = [_overhaul(known, rules, as_of, shelf_months, limits)]
    if known.rated:
        found.append(_tightness(known, rules, as_of))
    return [due for due in found if due]


def _overhaul(
    piece: PieceFacts, rules: tuple[Rule, ...], as_of: date, shelf_months: int, limits: ServiceLimits
) -> Due | None:
    due = _by_rule(piece, ServiceKind.OVERHAUL, overhaul_start(piece, shelf_months), rules, as_of)
    if due is None or due.start is None or not piece.amplitudes:
        return due
    evidence = reading_that_falls_short(piece.amplitudes, due.start.on, limits) or trend_to_a_limit(
        piece.amplitudes, due.start.on, limits
    )
    return brought_forward(due, evidence)


def _tightness(piece: PieceFacts, rules: tuple[Rule, ...], as_of: date) -> Due | None:
    due = _by_rule(piece, ServiceKind.TIGHTNESS, tightness_start(piece), rules, as_of)
    owed = tightness_owed(piece, due.start) if due and due.start else None
    if due is None or owed is None:
        return due
    return replace(due, opens_on=owed.since, due_on=owed.since, closes_on=owed.since, owed=owed)


def _by_rule(
    piece: PieceFacts, kind: ServiceKind, start: Start | None, rules: tuple[Rule, ...], as_of: date
) -> Due | None:
    rule = rule_for(piece, kind, start.on if start else None, rules, as_of)
    if rule is None:
        return None
    held = held_because(piece.status, in_workshop=piece.in_workshop)
    if start is None:
        return Due(kind, None, rule, None, None, None, None, held)
    alone = dates_by_rule(start.on, rule)
    return Due(kind, start, rule, alone.opens_on, alone.due_on, alone.closes_on, None, held, alone)


def dates_by_rule(start: date, rule: Rule) -> Dates:
    """The rule's months added to the start, each in one step."""
    return Dates(*(add_months(start, months) for months in (rule.opens, rule.due, rule.closes)))


def brought_forward(due: Due, evidence: Evidence | None) -> Due:
    """What evidence makes of a date: earlier or the same, never later.

    A reading that fell short makes it owed from its day. A trend moves the due date, and opens with it if opens were
    later; closes stays.
    """
    if evidence is None or due.by_rule is None:
        return due
    alone, day = due.by_rule, evidence.on
    if evidence.fact is EvidenceFact.READING:
        opens, closes = min(alone.opens_on, day), min(alone.closes_on, day)
        return replace(due, opens_on=opens, due_on=min(alone.due_on, day), closes_on=closes, evidence=evidence)
    if day >= alone.due_on:
        return due
    return replace(due, opens_on=min(alone.opens_on, day), due_on=day, evidence=evidence)


def held_because(status: Status, *, in_workshop: bool) -> str:
    """Why nobody is invited for a piece: lost, stolen, retired, or in the workshop now; empty when it is not held."""
    if status is not Status.IN_USE:
        return status.value
    return "workshop" if in_workshop else ""


def state_on(as_of: date, due: Due) -> State:
    """The state of one kind on a day. Dates are local calendar days; `closes_on` itself is overdue."""
    if due.held:
        return State.HELD
    if due.opens_on is None or due.due_on is None or due.closes_on is None:
        return State.NO_START
    if due.owed_since:
        return State.OWED
    if as_of < due.opens_on:
        return State.NOT_YET
    if as_of < due.due_on:
        return State.IN_WINDOW
    return State.DUE if as_of < due.closes_on else State.OVERDUE
