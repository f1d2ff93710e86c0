"""Why a piece is due when it is: one sentence for the desk, one record for programs (due-dates.md, because)."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from service_center.book.rules import ServiceKind, Use
from service_center.intervals.rules.choosing import Rule, Scope
from service_center.intervals.rules.due import Due
from service_center.intervals.rules.evidence import Evidence, EvidenceFact
from service_center.intervals.rules.start import Owed, OwedFact, Start, StartFact
from service_center.measurements.rules import Wind

HOUSE_DEFAULT = "house default"


@dataclass(frozen=True, slots=True)
class Because:
    """The reason for one `Due`, asked for on a day."""

    due: Due
    as_of: date
    sentence: str

    def record(self) -> dict[str, Any]:
        """Plain values, ready for JSON; dates as ISO 8601.

        `otherwise` has the dates that the rule alone gives, where something else decided.
        """
        due = self.due
        return {
            "as_of": self.as_of.isoformat(),
            "sentence": self.sentence,
            "start": _start_record(due.start),
            "rule": _rule_record(due.rule),
            "owed": _owed_record(due.owed),
            "evidence": due.evidence.record() if due.evidence else None,
            "held": due.held or None,
            "otherwise": _otherwise_record(due),
        }


def because(due: Due, as_of: date) -> Because:
    """Why this `Due` is as it is. The sentence is English, for the desk."""
    return Because(due, as_of, _sentence(due))


def _sentence(due: Due) -> str:
    """What decides comes first, then what the rule alone gives, and from where it counts."""
    if due.start is None or due.by_rule is None:
        text = _no_start(due.kind)
    elif due.owed or due.evidence:
        alone = f"by the rule alone the day is {_day(due.by_rule.due_on)}, counted from {_from(due.start)}"
        text = f"{_owed(due.owed) if due.owed else _evidence(due.evidence)}; {alone}, by {_rule(due.rule)}"
    else:
        text = f"counted from {_from(due.start)}, by {_rule(due.rule)}"
    text = f"{_held(due.held)}{text}"
    return f"{text[0].upper()}{text[1:]}."


def _held(held: str) -> str:
    if not held:
        return ""
    where = "with us" if held == "workshop" else held
    return f"the piece is {where}, so nobody is invited; "


def _no_start(kind: ServiceKind) -> str:
    work = "overhaul" if kind is ServiceKind.OVERHAUL else "passed test"
    return f"no start is known: no {work}, no day of sale and no day of making is on record"


def _from(start: Start) -> str:
    day = _day(start.on)
    match start.fact:
        case StartFact.OVERHAUL:
            return f"the overhaul of {day} (entry {start.entry})"
        case StartFact.PASS:
            return f"the passed tightness test of {day} (entry {start.entry})"
        case StartFact.SALE:
            return f"the sale on {day}"
        case StartFact.SHELF:
            return f"{day}, the end of the shelf allowance after its making (it was sold later)"
        case StartFact.MAKING:
            return f"its making on {day}"


def _rule(rule: Rule) -> str:
    name = f"rule “{rule.code}” for {_whom(rule)}" if rule.code else "the house default"
    if not rule.code and rule.use:
        name = f"{name} for {_whom(rule)}"
    return f"{name} (opens after {rule.opens}, due after {rule.due}, closes after {rule.closes} months)"


def _whom(rule: Rule) -> str:
    worn = {None: "", Use.EVERYDAY: " worn every day", Use.IN_WATER: " worn in water"}[rule.use]
    match rule.scope:
        case Scope.HOUSE:
            return f"pieces{worn}" if worn else "the whole house"
        case Scope.CALIBRE:
            return f"calibre {rule.scope_value}{worn}"
        case Scope.MODEL:
            return f"model {rule.scope_value}{worn}"
        case Scope.PIECE:
            return f"this piece{worn}"


def _owed(owed: Owed) -> str:
    what = {
        OwedFact.FAILED: "a test failed",
        OwedFact.OPENED: "the case was opened and no test passed",
    }[owed.fact]
    return f"a tightness test is owed since {_day(owed.since)}, when {what} (entry {owed.entry})"


def _evidence(seen: Evidence | None) -> str:
    assert seen is not None  # `_sentence` asked for it
    wound = {Wind.FULL: "at full wind", Wind.AFTER_24H: "24 h after full wind", Wind.END: "at the end of the reserve"}
    if seen.fact is EvidenceFact.READING:
        return (
            f"the overhaul is owed since {_day(seen.on)}, when an amplitude of {seen.degrees:g} degrees was read in "
            f"{seen.position} {wound[seen.wind]}, below the limit of {seen.limit:g}"
        )
    return (
        f"over {seen.visits} visits the amplitude {wound[seen.wind]} falls by {-(seen.degrees_a_year or 0):.1f} degrees "
        f"a year and reaches the limit of {seen.limit:g} on {_day(seen.on)}, when the overhaul is due"
    )


def _day(day: date) -> str:
    return f"{day.day} {day:%B} {day.year}"


def _start_record(start: Start | None) -> dict[str, Any] | None:
    return {"on": start.on.isoformat(), "fact": start.fact.value, "entry": start.entry} if start else None


def _rule_record(rule: Rule) -> dict[str, Any]:
    return {
        "code": rule.code or HOUSE_DEFAULT,
        "scope": rule.scope.value,
        "scope_value": rule.scope_value,
        "use": rule.use.value if rule.use else "any",
        "months": {"opens": rule.opens, "due": rule.due, "closes": rule.closes},
    }


def _owed_record(owed: Owed | None) -> dict[str, Any] | None:
    return {"since": owed.since.isoformat(), "entry": owed.entry, "fact": owed.fact.value} if owed else None


def _otherwise_record(due: Due) -> dict[str, Any] | None:
    if due.by_rule is None or (due.owed is None and due.evidence is None):
        return None
    alone = due.by_rule
    return {
        "opens_on": alone.opens_on.isoformat(),
        "due_on": alone.due_on.isoformat(),
        "closes_on": alone.closes_on.isoformat(),
    }
