"""A change of the rules as it is looked at, and the pieces that a changed rule speaks of."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from service_center.book.rules import ServiceKind
from service_center.intervals.rules import PieceFacts, Rule, Scope


@dataclass(frozen=True, slots=True)
class Look:
    """What is looked at: the rules before and after, the facts known on `as_of`, and the rules as they stand `on` a day.

    The two days are one, unless a rule that covers running intervals is still to come into force.
    """

    before: tuple[Rule, ...]
    after: tuple[Rule, ...]
    as_of: date
    on: date
    days_before_due: int

    @property
    def different(self) -> set[Rule]:
        """Every rule that is only in one of the two."""
        return set(self.before) ^ set(self.after)

    def kinds_of(self, piece: PieceFacts) -> set[ServiceKind]:
        """The kinds of a piece that a changed rule speaks of."""
        return {rule.kind for rule in self.different if rule.matches(piece)}


def pieces_spoken_of(rules: Sequence[Rule]) -> Q:
    """The pieces that any of some rules speaks of, by scope and use."""
    found = Q(pk__in=[])
    for rule in rules:
        scope = {
            Scope.HOUSE: Q(),
            Scope.CALIBRE: Q(model__calibre__code=rule.scope_value),
            Scope.MODEL: Q(model__reference=rule.scope_value),
            Scope.PIECE: Q(serial=rule.scope_value),
        }[rule.scope]
        use = Q(use=rule.use.value) if rule.use else Q()
        rated = Q(model__rated_bar__isnull=False) if rule.kind is ServiceKind.TIGHTNESS else Q()
        if not (scope or use or rated):
            return Q()
        found |= scope & use & rated
    return found
