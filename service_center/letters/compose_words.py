"""What a letter and its page say of a due date, in the language that is active. Whole sentences, for translators."""

from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from service_center.book.rules import ServiceKind
from service_center.intervals.rules import Due, Evidence, EvidenceFact, OwedFact, StartFact

# How long a piece stays, in days; common practice, to be told to the owner as a rough guide.
OVERHAUL_DAYS = 28
TIGHTNESS_DAYS = 2


def what(kind: ServiceKind) -> str:
    """The service by name."""
    return _("Overhaul") if kind is ServiceKind.OVERHAUL else _("Tightness check")


def why(due: Due, as_of: date) -> str:
    """Why now, in one or two short sentences an owner understands. Empty where no start is known."""
    if due.start is None or due.due_on is None:
        return ""
    if due.owed:
        day = {"day": _day(due.owed.since)}
        if due.owed.fact is OwedFact.FAILED:
            return _("Its case did not pass the tightness test on %(day)s.") % day
        return _("Its case was opened on %(day)s, and no tightness test is known since.") % day
    if due.evidence:
        return _measured(due.evidence)
    if due.kind is ServiceKind.OVERHAUL:
        return f"{_overhaul_start(due.start.fact) % {'day': _day(due.start.on)}} {_overhaul_due(due, as_of)}"
    return f"{_tightness_start(due.start.fact) % {'day': _day(due.start.on)}} {_tightness_due(due, as_of)}"


def caution(due: Due) -> str:
    """What to mind until then; empty where there is nothing."""
    if due.kind is ServiceKind.TIGHTNESS and due.owed:
        return _("Until it has passed the test, please keep it away from water.")
    return ""


def takes(kind: ServiceKind, *, rated: bool) -> str:
    """What the service takes. `rated`: the model has a pressure rating, so that its overhaul ends with a test."""
    if kind is ServiceKind.TIGHTNESS:
        return ngettext(
            "The check takes about %(days)s day.", "The check takes about %(days)s days.", TIGHTNESS_DAYS
        ) % {"days": TIGHTNESS_DAYS}
    time = ngettext(
        "The overhaul takes about %(days)s day in our workshop.",
        "The overhaul takes about %(days)s days in our workshop.",
        OVERHAUL_DAYS,
    ) % {"days": OVERHAUL_DAYS}
    included = _("It includes the tightness check.")
    return f"{time} {included}" if rated else time


def where(boutique: str) -> str:
    """Where to bring it; any boutique when none is known."""
    if boutique:
        return _("Please bring it to %(boutique)s, or to any of our boutiques.") % {"boutique": boutique}
    return _("Please bring it to any of our boutiques.")


def guarantee_runs(until: date) -> str:
    """That a guarantee runs, and that care is no part of it."""
    return _("Its guarantee runs to %(day)s; care that falls due is not part of it.") % {"day": _day(until)}


def subject(names: list[str], kinds: set[ServiceKind]) -> str:
    """The subject line: by the piece's name where there is one piece."""
    if len(names) > 1:
        return ngettext(
            "Care for your %(count)s watch is due", "Care for your %(count)s watches is due", len(names)
        ) % {"count": len(names)}
    if ServiceKind.OVERHAUL in kinds:
        return _("Your %(name)s: time for an overhaul") % {"name": names[0]}
    return _("Your %(name)s: time for a tightness check") % {"name": names[0]}


def greeting(name: str) -> str:
    """How the letter begins."""
    return _("Dear %(name)s,") % {"name": name} if name else _("Good day,")


def opening(count: int, *, written_before: bool) -> str:
    """The first sentence. `written_before`: every piece in the letter had its first letter already."""
    if written_before:
        return ngettext(
            "Some weeks ago we wrote to you about a watch of yours. It is still due, and we would gladly look after it.",
            "Some weeks ago we wrote to you about watches of yours. They are still due, and we would gladly look "
            "after them.",
            count,
        )
    return ngettext(
        "A watch of yours is due for its care, so that it keeps good time and keeps water out for many years.",
        "Watches of yours are due for their care, so that they keep good time and keep water out for many years.",
        count,
    )


def _measured(evidence: Evidence) -> str:
    day = {"day": _day(evidence.on)}
    if evidence.fact is EvidenceFact.READING:
        return (
            _("When we measured it on %(day)s, its movement fell short of our limits: the overhaul should not wait.")
            % day
        )
    return _("Our measurements show its oils ageing sooner than usual: we recommend an overhaul by %(day)s.") % day


def _overhaul_start(fact: StartFact) -> str:
    return {
        StartFact.OVERHAUL: _("Its last overhaul was on %(day)s."),
        StartFact.SALE: _("It was sold on %(day)s."),
        StartFact.SHELF: _("It was in stock for long, so its oils count from %(day)s."),
        StartFact.MAKING: _("It was made on %(day)s."),
        StartFact.PASS: _("It was last tested on %(day)s."),
    }[fact]


def _overhaul_due(due: Due, as_of: date) -> str:
    if due.due_on is None:
        return ""
    if as_of < due.due_on:
        return _("We recommend an overhaul by %(day)s, because oils age.") % {"day": _day(due.due_on)}
    return _("We recommended an overhaul by %(day)s, because oils age.") % {"day": _day(due.due_on)}


def _tightness_start(fact: StartFact) -> str:
    return {
        StartFact.OVERHAUL: _("Its last overhaul was on %(day)s."),
        StartFact.PASS: _("Its case last passed the tightness test on %(day)s."),
        StartFact.SALE: _("It was sold on %(day)s."),
        StartFact.SHELF: _("It was in stock for long, so its gaskets count from %(day)s."),
        StartFact.MAKING: _("It was made on %(day)s."),
    }[fact]


def _tightness_due(due: Due, as_of: date) -> str:
    if due.due_on is None:
        return ""
    if as_of < due.due_on:
        return _("We recommend a check by %(day)s, because gaskets age.") % {"day": _day(due.due_on)}
    return _("We recommended a check by %(day)s, because gaskets age.") % {"day": _day(due.due_on)}


def _day(day: date) -> str:
    return date_format(day, "DATE_FORMAT")
