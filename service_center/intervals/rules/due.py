"""Due dates of one piece, and their state on a day (due-dates.md)."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service_center.book.rules import ServiceKind, Status
from service_center.intervals.rules.choosing import Rule, rule_for
from service_center.intervals.rules.facts import PieceFacts
from service_center.intervals.rules.months import add_months
from service_center.intervals.rules.start import Owed, Start, overhaul_start, tightness_owed, tightness_start


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

    `by_rule` is what the rule alone gives, whatever is owed.
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


def due_dates(piece: PieceFacts, rules: Iterable[Rule], as_of: date, *, shelf_months: int) -> list[Due]:
    """What is due for a piece from the facts known on `as_of`: one `Due` a kind that applies, overhaul first."""
    rules = tuple(rules)
    known = piece.known_on(as_of)
    found = [_due(known, ServiceKind.OVERHAUL, overhaul_start(known, shelf_months), None, rules, as_of)]
    if known.rated:
        start = tightness_start(known)
        owed = tightness_owed(known, start) if start else None
        found.append(_due(known, ServiceKind.TIGHTNESS, start, owed, rules, as_of))
    return [due for due in found if due]


def _due(
    piece: PieceFacts, kind: ServiceKind, start: Start | None, owed: Owed | None, rules: tuple[Rule, ...], as_of: date
) -> Due | None:
    rule = rule_for(piece, kind, start.on if start else None, rules, as_of)
    if rule is None:
        return None
    held = held_because(piece.status, in_workshop=piece.in_workshop)
    if start is None:
        return Due(kind, None, rule, None, None, None, None, held)
    alone = dates_by_rule(start.on, rule)
    if owed:
        return Due(kind, start, rule, owed.since, owed.since, owed.since, owed, held, alone)
    return Due(kind, start, rule, alone.opens_on, alone.due_on, alone.closes_on, None, held, alone)


def dates_by_rule(start: date, rule: Rule) -> Dates:
    """The rule's months added to the start, each in one step."""
    return Dates(*(add_months(start, months) for months in (rule.opens, rule.due, rule.closes)))


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
    if due.owed:
        return State.OWED
    if as_of < due.opens_on:
        return State.NOT_YET
    if as_of < due.due_on:
        return State.IN_WINDOW
    return State.DUE if as_of < due.closes_on else State.OVERDUE
