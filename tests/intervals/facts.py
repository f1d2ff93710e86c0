"""Facts of one piece as a test's sentence needs them; the rest is filled in."""

from datetime import date
from typing import Any

from service_center.book.rules import EntryKind, ServiceKind, Status, Tightness, Use
from service_center.intervals.rules import HOUSE_DEFAULTS as DEFAULTS
from service_center.intervals.rules import Due, Entry, Move, PieceFacts, Rule, Scope, due_dates


def day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def overhaul(on: str, **changes: Any) -> Entry:
    """An overhaul by our own workshop, which ends with a passed test."""
    return entry(on, **{"kind": EntryKind.OVERHAUL, "case_opened": True, "tightness": Tightness.PASSED, **changes})


def entry(on: str, **changes: Any) -> Entry:
    """A tightness check by our own workshop, case closed, nothing said of its result."""
    values = {
        "code": f"E-{on}",
        "kind": EntryKind.TIGHTNESS_CHECK,
        "case_opened": False,
        "tightness": Tightness.NOT_TESTED,
        "counts": True,
    }
    return Entry(done_on=date.fromisoformat(on), **{**values, **changes})


def piece(*history: Entry, made: str | None = None, sold: str | None = "2019-05-17", **changes: Any) -> PieceFacts:
    """A water-resistant piece worn every day."""
    values: dict[str, Any] = {
        "serial": "FH21-000042",
        "reference": "SK-0104",
        "calibre": "FH-21",
        "rated": True,
        "use": Use.EVERYDAY,
        "status": Status.IN_USE,
        "moves": (),
    }
    return PieceFacts(made_on=day(made), sold_on=day(sold), history=history, **{**values, **changes})


def rule(months: tuple[int, int, int], **changes: Any) -> Rule:
    """An overhaul rule of the whole house, in force since 2000."""
    opens, due, closes = months
    values: dict[str, Any] = {
        "code": "R1",
        "kind": ServiceKind.OVERHAUL,
        "scope": Scope.HOUSE,
        "scope_value": "",
        "use": None,
        "in_force_from": date(2000, 1, 1),
        "covers_running": False,
    }
    return Rule(opens=opens, due=due, closes=closes, **{**values, **changes})


def due(facts: PieceFacts, kind: str, as_of: str, *, rules: tuple[Rule, ...] = DEFAULTS, shelf: int = 36) -> Due:
    """What is due of one kind."""
    found = {one.kind: one for one in due_dates(facts, rules, date.fromisoformat(as_of), shelf_months=shelf)}
    return found[ServiceKind(kind)]


def days(found: Due) -> tuple[str, ...]:
    """Opens, due and closes as ISO text."""
    return tuple(str(one) for one in (found.opens_on, found.due_on, found.closes_on))


__all__ = ["Move", "Rule", "Scope", "day", "days", "due", "entry", "overhaul", "piece", "rule"]
