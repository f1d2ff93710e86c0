"""Why now, for an owner: what a due date says of itself in the language that is active. Whole sentences, for translators.

The desk's sentence and the record for programs are in rules/because.py; all three tell the same facts.
"""

from datetime import date

from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _

from service_center.book.days import day_written
from service_center.book.rules import ServiceKind, Use
from service_center.book.wording import FALLBACK, one_after_another
from service_center.intervals.rules import Due, Evidence, EvidenceFact, OwedFact, Start, StartFact


def why_now(due: Due, as_of: date) -> str:
    """One to three short sentences: the fact that decides, the house's rule, and the day. Empty without a start."""
    if due.start is None or due.due_on is None or due.by_rule is None:
        return ""
    if due.owed:
        day = {"day": day_written(due.owed.since)}
        if due.owed.fact is OwedFact.FAILED:
            return _("Its case did not pass the tightness test on %(day)s: a new test should not wait.") % day
        return _("Its case was opened on %(day)s, and no tightness test is known since: a test should not wait.") % day
    if due.evidence:
        return _both(_measured(due.evidence, as_of), _by_age_alone(due.by_rule.due_on, as_of))
    return _both(_counted_from(due.start), _due(due, as_of))


def _both(first: str, then: str) -> str:
    return one_after_another(get_language() or FALLBACK, first, then)


def _measured(evidence: Evidence, as_of: date) -> str:
    day = {"day": day_written(evidence.on)}
    if evidence.fact is EvidenceFact.READING:
        return (
            _("When we measured it on %(day)s, its movement fell short of our limits: the overhaul should not wait.")
            % day
        )
    if as_of < evidence.on:
        return _("Our measurements show its oils ageing sooner than usual: we recommend an overhaul by %(day)s.") % day
    return _("Our measurements show its oils ageing sooner than usual: the overhaul was due on %(day)s.") % day


def _by_age_alone(by_rule: date, as_of: date) -> str:
    day = {"day": day_written(by_rule)}
    if as_of < by_rule:
        return _("By its age alone it would be due on %(day)s.") % day
    return _("By its age alone it was due on %(day)s.") % day


def _counted_from(start: Start) -> str:
    return {
        StartFact.OVERHAUL: _("Its last overhaul was on %(day)s."),
        StartFact.PASS: _("Its case last passed the tightness test on %(day)s."),
        StartFact.SALE: _("It was sold on %(day)s."),
        StartFact.SHELF: _(
            "It lay in stock for some time before it was sold, so we count the age of its oils from %(day)s."
        ),
        StartFact.MAKING: _("It was made on %(day)s."),
    }[start.fact] % {"day": day_written(start.on)}


def _due(due: Due, as_of: date) -> str:
    assert due.due_on is not None  # `why_now` asked for it
    words = {"after": _after(due.rule.due), "day": day_written(due.due_on)}
    ahead, in_water = as_of < due.due_on, due.rule.use is Use.IN_WATER
    if due.kind is ServiceKind.OVERHAUL:
        if ahead:
            return _("Because oils age, we recommend an overhaul %(after)s: by %(day)s.") % words
        return _("Because oils age, we recommend an overhaul %(after)s: it was due on %(day)s.") % words
    if in_water and ahead:
        return _("Because gaskets age, and sooner in water, we recommend a check %(after)s: by %(day)s.") % words
    if in_water:
        return _("Because gaskets age, and sooner in water, we recommend a check %(after)s: it was due on %(day)s.") % words  # fmt: skip
    if ahead:
        return _("Because gaskets age, we recommend a check %(after)s: by %(day)s.") % words
    return _("Because gaskets age, we recommend a check %(after)s: it was due on %(day)s.") % words


def _after(months: int) -> str:
    """The rule's time in years where it is whole years; a phrase of its own, so that a language can bend it."""
    years, rest = divmod(months, 12)
    if years and not rest:
        return ngettext("after %(count)s year", "after %(count)s years", years) % {"count": years}
    return ngettext("after %(count)s month", "after %(count)s months", months) % {"count": months}
