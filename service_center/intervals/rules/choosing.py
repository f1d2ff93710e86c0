"""Which interval rule applies to a piece (due-dates.md, which rule)."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service_center.book.rules import ServiceKind, Use
from service_center.intervals.rules.facts import PieceFacts


class Scope(StrEnum):
    """For which pieces a rule speaks, from the widest to the narrowest."""

    HOUSE = "house"
    CALIBRE = "calibre"
    MODEL = "model"
    PIECE = "piece"


NARROWNESS = {scope: rank for rank, scope in enumerate(Scope)}


@dataclass(frozen=True, slots=True)
class Rule:
    """Months from the start; 0 <= opens <= due <= closes. `use` None: any. `code` empty: a house default."""

    code: str
    kind: ServiceKind
    scope: Scope
    scope_value: str
    use: Use | None
    opens: int
    due: int
    closes: int
    in_force_from: date
    covers_running: bool

    def matches(self, piece: PieceFacts) -> bool:
        """By scope and use alone; when it came into force is another question."""
        if self.use is not None and self.use is not piece.use:
            return False
        match self.scope:
            case Scope.HOUSE:
                return True
            case Scope.CALIBRE:
                return self.scope_value == piece.calibre
            case Scope.MODEL:
                return self.scope_value == piece.reference
            case Scope.PIECE:
                return self.scope_value == piece.serial

    def eligible(self, start: date, as_of: date) -> bool:
        """In force by the start; or, where it covers intervals that were already running, by the day of the question."""
        return self.in_force_from <= start or (self.covers_running and self.in_force_from <= as_of)


def _default(kind: ServiceKind, use: Use | None, opens: int, due: int, closes: int) -> Rule:
    return Rule("", kind, Scope.HOUSE, "", use, opens, due, closes, in_force_from=date.min, covers_running=False)


# Common practice of the trade; a book with rules of its own uses those instead.
HOUSE_DEFAULTS = (
    _default(ServiceKind.OVERHAUL, None, 72, 84, 96),
    _default(ServiceKind.TIGHTNESS, None, 11, 12, 15),
    _default(ServiceKind.TIGHTNESS, Use.IN_WATER, 5, 6, 9),
)


def rule_for(
    piece: PieceFacts, kind: ServiceKind, start: date | None, rules: Iterable[Rule], as_of: date
) -> Rule | None:
    """The rule for one kind, or None where none matches the piece at all: the kind does not apply to it.

    Without a start no rule is eligible, and the one that is named says only that the kind applies.
    """
    matching = [rule for rule in rules if rule.kind is kind and rule.matches(piece)]
    eligible = [rule for rule in matching if start is not None and rule.eligible(start, as_of)]
    if eligible:
        return max(eligible, key=lambda rule: (*_closeness(rule), rule.in_force_from))
    # The start lies before every rule: the same order of scope and use, and then the earliest in force.
    return min(matching, key=lambda rule: (*(-rank for rank in _closeness(rule)), rule.in_force_from), default=None)


def default_for(kind: ServiceKind, use: Use | None) -> Rule:
    """The house default for a kind and a use."""
    matching = [rule for rule in HOUSE_DEFAULTS if rule.kind is kind and rule.use in {None, use}]
    return max(matching, key=_closeness)


def _closeness(rule: Rule) -> tuple[int, int]:
    """The narrower scope wins; then a rule for the piece's own use over any."""
    return NARROWNESS[rule.scope], int(rule.use is not None)
