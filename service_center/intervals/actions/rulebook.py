"""Changing the house's rules: what is written, the trail of it, and the due dates that follow."""

import logging
from dataclasses import dataclass, replace
from datetime import date

from django.db import IntegrityError, OperationalError, transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.models import Piece
from service_center.intervals.actions.locks import take_rules
from service_center.intervals.actions.stored import recompute
from service_center.intervals.models import IntervalRule, StoredDays
from service_center.intervals.queries import rulebook
from service_center.intervals.rules import Rule
from service_center.intervals.rules.rulebook import WRITTEN_DEFAULTS, Change, equal_to, next_code, record_of

# So many pieces are worked out in the transaction that writes the rule; more of them afterwards, chunk by chunk.
FEW = 2_000


class EqualRuleError(ValueError):
    """There is a rule that is equal in kind, scope, value, use and day in force; `other` is it."""

    def __init__(self, other: Rule) -> None:
        super().__init__(other.code)
        self.other = other


class RuleGoneError(ValueError):
    """A rule to take back is not written any more, or not as it was."""


@dataclass(frozen=True, slots=True)
class Kept:
    """What was written: the new rules with their codes, and how many pieces were worked out anew.

    `pieces` None: the rules are kept, but somebody else had the book in hand, and the next round works it out.
    """

    added: tuple[Rule, ...]
    pieces: int | None


def change_rules(change: Change, *, deed: str, reason: str, by: Staff | None, as_of: date) -> Kept:
    """Write a change of the rules and the trail of it, and work out the due dates that it touches.

    The first rule that the house writes writes the defaults of the trade too, so that they go on applying. Raises
    EqualRuleError and RuleGoneError; nothing is written then. Where many pieces are touched, the rule is kept first
    and the book is worked out chunk by chunk; should that be cut short, the next round does it.
    """
    touched = list(rulebook.pieces_touched(change.rules)[: FEW + 1])
    few = len(touched) <= FEW
    with transaction.atomic():
        if few:
            # The pieces before the rules, in the order in which whoever records a fact takes the two.
            list(Piece.objects.filter(pk__in=touched).order_by("pk").select_for_update(no_key=True).values_list("pk"))
        take_rules()
        defaults, added = _write(change)
        everything = bool(defaults) or not rulebook.written_rules()
        leave_trail(
            by=by,
            deed=deed,
            subject=rulebook.SUBJECT,
            before=[record_of(rule) for rule in (*change.removed, *change.ended)] or None,
            after=[record_of(rule) for rule in (*defaults, *added)] or None,
            reason=reason,
        )
        if few and not everything:
            return Kept(added, recompute(touched, as_of=as_of).pieces)
        # Until the pass is through, no stored date can be relied upon: whatever comes next does the whole book.
        StoredDays.objects.all().delete()
    try:
        return Kept(added, recompute(None, as_of=as_of).pieces)
    except OperationalError:
        # The rule is kept and cannot be unsaid by a lock that was not to be had in time.
        logging.getLogger(__name__).exception("The rules are kept, but the due dates could not be worked out yet")
        return Kept(added, None)


def _write(change: Change) -> tuple[tuple[Rule, ...], tuple[Rule, ...]]:
    """Write the rows. Returns the defaults, where they had to be written too, and the new rules."""
    written = rulebook.written_rules()
    if any(rule not in written for rule in (*change.removed, *change.ended)):
        raise RuleGoneError
    defaults = () if written else WRITTEN_DEFAULTS
    IntervalRule.objects.bulk_create([_row(rule) for rule in defaults])
    left = [rule for rule in (*defaults, *written) if rule not in change.removed]
    IntervalRule.objects.filter(code__in=[rule.code for rule in change.removed]).delete()
    added: list[Rule] = []
    for rule in change.added:
        other = equal_to(rule, [*left, *added])
        if other:
            raise EqualRuleError(other)
        codes = rulebook.codes_ever_given() | {one.code for one in added}
        added.append(replace(rule, code=next_code(codes)))
    try:
        with transaction.atomic():
            IntervalRule.objects.bulk_create([_row(rule) for rule in added])
    except IntegrityError as fault:
        # An import does not wait for us: it may have brought an equal rule since we looked.
        equal = next((found for rule in added if (found := equal_to(rule, rulebook.written_rules()))), None)
        if equal is None:
            raise
        raise EqualRuleError(equal) from fault
    return defaults, tuple(added)


def _row(rule: Rule) -> IntervalRule:
    record = record_of(rule)
    return IntervalRule(code=record.pop("rule"), **record)
