"""A due date as outside.md writes it: plain values, ready for JSON."""

from datetime import date
from typing import Any

from service_center.intervals.rules import Due, because, state_on


def due_report(serial: str, due: Due, as_of: date) -> dict[str, Any]:
    """One due date of one piece on a day."""
    return {
        "serial": serial,
        "kind": due.kind.value,
        "state": state_on(as_of, due).value,
        "starts_on": due.start.on.isoformat() if due.start else None,
        "opens_on": due.opens_on.isoformat() if due.opens_on else None,
        "due_on": due.due_on.isoformat() if due.due_on else None,
        "closes_on": due.closes_on.isoformat() if due.closes_on else None,
        "because": because(due, as_of).record(),
    }
