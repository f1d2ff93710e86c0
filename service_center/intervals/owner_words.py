"""What is due, when and why, as an owner reads it, in the language that is active.

Whole sentences, so that a translator can turn each of them round. The desk's sentence is rules/because.py.
"""

from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from service_center.book.rules import ServiceKind
from service_center.intervals.rules import Due, OwedFact, StartFact


def kind_in_words(kind: ServiceKind) -> str:
    """What the service is called."""
    return {ServiceKind.OVERHAUL: _("Overhaul"), ServiceKind.TIGHTNESS: _("Tightness check")}[kind]


def when_in_words(due: Due, as_of: date) -> str:
    """When it is due, after the name of the service: "due on 17 May 2026". Empty without a start."""
    if due.due_on is None:
        return ""
    if due.owed:
        return _("due now")
    day = {"day": date_format(due.due_on)}
    return _("due on %(day)s") % day if as_of < due.due_on else _("due since %(day)s") % day


def owner_sentence(due: Due) -> str:
    """Why it is due, in one sentence. Empty without a start: nobody is invited then."""
    if due.start is None:
        return ""
    if due.owed:
        return _owed()[due.owed.fact] % {"day": date_format(due.owed.since)}
    words = _overhaul() if due.kind is ServiceKind.OVERHAUL else _tightness()
    return words[due.start.fact] % {"day": date_format(due.start.on), "time": _time(due.rule.due)}


def caution(due: Due) -> str:
    """What the owner should not do until then, where there is something."""
    return _("Until it has passed a tightness test, please keep it away from water.") if due.owed else ""


def _overhaul() -> dict[StartFact, str]:
    return {
        StartFact.OVERHAUL: _(
            "Its last overhaul was on %(day)s; the oil in the movement ages, so the next is recommended after %(time)s."
        ),
        StartFact.SALE: _(
            "It was sold on %(day)s and we know of no overhaul since; the oil in the movement ages, so one is "
            "recommended after %(time)s."
        ),
        StartFact.SHELF: _(
            "It lay in stock before it was sold, where oil ages too: counted from %(day)s, an overhaul is recommended "
            "after %(time)s."
        ),
        StartFact.MAKING: _(
            "It was made on %(day)s and we know of no overhaul since; the oil in the movement ages, so one is "
            "recommended after %(time)s."
        ),
    }


def _tightness() -> dict[StartFact, str]:
    return {
        StartFact.PASS: _(
            "It last passed a tightness test on %(day)s; seals age, so a new check is recommended after %(time)s."
        ),
        StartFact.SALE: _(
            "It was sold on %(day)s and we know of no tightness test since; seals age, so a check is recommended "
            "after %(time)s."
        ),
        StartFact.MAKING: _(
            "It was made on %(day)s and we know of no tightness test since; seals age, so a check is recommended "
            "after %(time)s."
        ),
    }


def _owed() -> dict[OwedFact, str]:
    return {
        OwedFact.FAILED: _("It failed a tightness test on %(day)s and has passed none since that we know of."),
        OwedFact.OPENED: _("Its case was opened on %(day)s, and we know of no passed tightness test since."),
    }


def _time(months: int) -> str:
    """Whole years as years: 84 months are seven years, 18 months stay months."""
    years, rest = divmod(months, 12)
    if years and not rest:
        return ngettext("%(count)d year", "%(count)d years", years) % {"count": years}
    return ngettext("%(count)d month", "%(count)d months", months) % {"count": months}
