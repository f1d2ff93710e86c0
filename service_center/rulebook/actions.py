"""Looking at what a change of the rules would do, and doing it with all that follows."""

from datetime import date

from service_center.access.models import Staff
from service_center.intervals.actions import bring_to
from service_center.intervals.actions.rulebook import EqualRuleError, Kept, RuleGoneError, change_rules
from service_center.intervals.queries.foreseen import Foreseen, foresee
from service_center.intervals.queries.look import Look
from service_center.intervals.queries.rulebook import before_and_after
from service_center.intervals.rules.rulebook import Change, day_of_effect
from service_center.letters.actions import end_reminders
from service_center.letters.rules.steps import HOUSE_DAYS
from service_center.rulebook.queries import may_be_invited, pieces_to_look_at

__all__ = ["EqualRuleError", "Kept", "RuleGoneError", "foresee_change", "keep_change"]


def foresee_change(change: Change, *, as_of: date) -> tuple[date, Foreseen]:
    """What a change would do to the due dates of a day, and that day: `as_of`, or the one on which running intervals move.

    Writes nothing but what the day has made due anyway: the stored dates are brought to `as_of` first.
    """
    bring_to(as_of=as_of)
    before, after = before_and_after(change)
    on = day_of_effect(change, as_of)
    look = Look(before, after, as_of=as_of, on=on, days_before_due=HOUSE_DAYS.invite_before_due)
    return on, foresee(look, reachable=may_be_invited())


def keep_change(change: Change, *, deed: str, reason: str, by: Staff | None, as_of: date) -> Kept:
    """Write a change, work the due dates out anew, and end the reminders that they no longer bear out: whose kind does
    not apply any more, or whose day is so far off that it is invited anew.

    Raises EqualRuleError and RuleGoneError; nothing is written then.
    """
    kept = change_rules(change, deed=deed, reason=reason, by=by, as_of=as_of)
    for piece in pieces_to_look_at():
        end_reminders(piece, on=as_of, because="the house's interval rules were changed")
    return kept
