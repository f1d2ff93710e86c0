"""The house's rules beside one another: how each stands on a day, what a change makes of them, what ending one means.

due-dates.md gives a rule a day from which it is in force and none on which it ends. So a rule is ended by rules that
follow it, or taken back as though it had never been written.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum
from typing import Any

from service_center.book.rules import ServiceKind, Use
from service_center.intervals.rules.choosing import HOUSE_DEFAULTS, Rule, Scope, rule_for
from service_center.intervals.rules.facts import PieceFacts

# The first day that a book's files can write (outside.md): a rule in force from it was there before every fact.
ALWAYS = date(1800, 1, 1)

Place = tuple[ServiceKind, Scope, str, Use | None]


class Standing(StrEnum):
    """How a rule stands on a day."""

    IN_FORCE = "in_force"
    RUNNING = "running"  # followed by another; intervals that began before that still count by it
    ENDED = "ended"  # followed by one that covers running intervals: nothing counts by it any more
    TO_COME = "to_come"


class NothingOtherwiseError(ValueError):
    """Without the rule its kind would not apply at all, and no rule can say that."""


class BeforeItsForceError(ValueError):
    """A rule is ended before the day, or on the day, on which it comes into force."""


@dataclass(frozen=True, slots=True)
class Change:
    """What is done to the rules in one go. `ended`: those that the added ones follow; they stay."""

    added: tuple[Rule, ...] = ()
    removed: tuple[Rule, ...] = ()
    ended: tuple[Rule, ...] = ()

    @property
    def rules(self) -> tuple[Rule, ...]:
        """Every rule that it adds or takes away."""
        return (*self.added, *self.removed)


def _written(default: Rule) -> Rule:
    use = f"-{default.use.value.replace('_', '-')}" if default.use else ""
    return replace(default, code=f"default-{default.kind.value}{use}", in_force_from=ALWAYS)


# The defaults of the trade as the house's own rules: the same dates for every fact that a book can hold.
WRITTEN_DEFAULTS = tuple(_written(default) for default in HOUSE_DEFAULTS)


def applying(written: Sequence[Rule]) -> tuple[Rule, ...]:
    """The rules that apply where these are written: the defaults where none is."""
    return tuple(written) or WRITTEN_DEFAULTS


def changed(written: Sequence[Rule], change: Change) -> tuple[Rule, ...]:
    """What applies after a change. The first rule that a house writes stands beside the defaults, not in their place."""
    kept = [rule for rule in applying(written) if rule not in change.removed]
    return applying([*kept, *change.added])


def place_of(rule: Rule) -> Place:
    """Kind, scope, value and use: the rules of one place follow one another by the day in force."""
    return rule.kind, rule.scope, rule.scope_value, rule.use


def equal_to(rule: Rule, written: Iterable[Rule]) -> Rule | None:
    """A rule that is equal in all that decides between two (due-dates.md, which rule), or None."""
    same = (
        other
        for other in written
        if place_of(other) == place_of(rule) and other.in_force_from == rule.in_force_from and other.code != rule.code
    )
    return next(same, None)


def standing_of(rule: Rule, rules: Iterable[Rule], as_of: date) -> Standing:
    """How a rule stands on a day among the others of its place."""
    if rule.in_force_from > as_of:
        return Standing.TO_COME
    later = [
        other
        for other in rules
        if place_of(other) == place_of(rule) and rule.in_force_from < other.in_force_from <= as_of
    ]
    if not later:
        return Standing.IN_FORCE
    return Standing.ENDED if any(other.covers_running for other in later) else Standing.RUNNING


def followers(
    rule: Rule, rules: Iterable[Rule], piece: PieceFacts, day: date, *, covers_running: bool
) -> tuple[Rule, ...]:
    """Rules of the same place that end this one on a day: with the months that would otherwise apply from then on.

    `piece` is any piece of the rule's scope. A rule for any use is followed by one for any use, and by one more for
    each use to which something else would otherwise apply. They have no codes yet. Raises BeforeItsForceError, and
    NothingOtherwiseError where no other rule applies.
    """
    if day <= rule.in_force_from:
        raise BeforeItsForceError
    others = [other for other in rules if other != rule]

    def otherwise(use: Use | None) -> Rule | None:
        return rule_for(replace(piece, use=use), rule.kind, day, others, day)

    plain = otherwise(rule.use)
    if plain is None:
        raise NothingOtherwiseError
    found = [_following(rule, plain, rule.use, day, covers_running=covers_running)]
    for use in Use if rule.use is None else ():
        other = otherwise(use)
        # A rule of the same scope for that very use comes before this one already, and goes on doing so.
        narrower = other is not None and other.scope is rule.scope and other.use is use
        if other is not None and not narrower and _months(other) != _months(plain):
            found.append(_following(rule, other, use, day, covers_running=covers_running))
    return tuple(found)


def _following(rule: Rule, other: Rule, use: Use | None, day: date, *, covers_running: bool) -> Rule:
    opens, due, closes = _months(other)
    return replace(
        rule, code="", use=use, opens=opens, due=due, closes=closes, in_force_from=day, covers_running=covers_running
    )


def _months(rule: Rule) -> tuple[int, int, int]:
    return rule.opens, rule.due, rule.closes


def day_of_effect(change: Change, as_of: date) -> date:
    """The day whose due dates show what a change does: the asked one, or a later one on which running intervals move."""
    return max(
        (rule.in_force_from for rule in change.rules if rule.covers_running and rule.in_force_from > as_of),
        default=as_of,
    )


def invitation_day(
    kind: ServiceKind, *, opens_on: date, due_on: date, owed_since: date | None, days_before_due: int
) -> date:
    """The day from which an invitation makes sense (letters.md, steps).

    Owed: at once. A tightness check: when it opens. An overhaul: some days before due, never before it opens.
    """
    if owed_since is not None:
        return owed_since
    if kind is ServiceKind.TIGHTNESS:
        return opens_on
    return max(opens_on, due_on - timedelta(days=days_before_due))


def next_code(codes: Iterable[str]) -> str:
    """A code that no rule has: R and the number after the highest one given so far."""
    numbers = [int(code[1:]) for code in codes if code[:1] == "R" and code[1:].isascii() and code[1:].isdigit()]
    return f"R{max(numbers, default=0) + 1}"


def record_of(rule: Rule) -> dict[str, Any]:
    """A rule as plain values, by the columns of rules.csv."""
    return {
        "rule": rule.code,
        "kind": rule.kind.value,
        "scope": rule.scope.value,
        "scope_value": rule.scope_value,
        "use": rule.use.value if rule.use else "any",
        "opens_months": rule.opens,
        "due_months": rule.due,
        "closes_months": rule.closes,
        "in_force_from": rule.in_force_from.isoformat(),
        "covers_running": rule.covers_running,
    }


def rule_from_record(record: dict[str, Any]) -> Rule:
    """What `record_of` wrote."""
    return Rule(
        code=record["rule"],
        kind=ServiceKind(record["kind"]),
        scope=Scope(record["scope"]),
        scope_value=record["scope_value"],
        use=None if record["use"] == "any" else Use(record["use"]),
        opens=record["opens_months"],
        due=record["due_months"],
        closes=record["closes_months"],
        in_force_from=date.fromisoformat(record["in_force_from"]),
        covers_running=record["covers_running"],
    )
