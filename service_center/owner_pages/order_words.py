"""What an owner reads of an order of theirs, in the language that is active."""

from datetime import date

from django.utils.translation import gettext as _

from service_center.book.days import day_written
from service_center.book.rules import Place
from service_center.workshop.orders.actions import AnsweredBefore, OutOfDate
from service_center.workshop.orders.rules.steps import Step


def step_in_words(step: Step, place: Place, *, boutique: str, closed_on: date | None) -> str:
    """Where the work on a watch stands."""
    if step is Step.READY:
        if place is not Place.BOUTIQUE:
            return _("The work is finished, and your watch is on its way to the boutique.")
        return _("Your watch is ready: you can fetch it at %(boutique)s.") % {"boutique": boutique}
    if step is Step.HANDED_BACK:
        day = day_written(closed_on) if closed_on else ""
        return _("Your watch was handed back to you on %(day)s.") % {"day": day}
    return {
        Step.LOGGED: _("We have your watch; the work on it has not begun yet."),
        Step.RECEIVED: _("Your watch has arrived in our workshop."),
        Step.DIAGNOSED: _("A watchmaker has looked at your watch."),
        Step.ESTIMATED: _("We have written an estimate, and wait for your answer."),
        Step.AGREED: _("You agreed to the estimate: the work begins next."),
        Step.DECLINED: _("You declined the estimate: we make your watch ready to go back to you."),
        Step.ON_THE_BENCH: _("Your watch is on the watchmaker's bench."),
        Step.UNDER_CONTROL: _("The work is done; we are checking how your watch runs and whether its case is tight."),
    }[step]


def next_in_words(step: Step, place: Place, *, number: str) -> str:
    """What the owner does next, where there is something to do besides an answer; else empty."""
    if step is Step.READY and place is Place.BOUTIQUE:
        return _("Please bring your receipt %(number)s with you.") % {"number": number}
    return ""


def promise_in_words(promised_on: date, as_of: date) -> str:
    """The day that was promised."""
    day = day_written(promised_on)
    if promised_on < as_of:
        return _("We promised it for %(day)s and are late: we are sorry.") % {"day": day}
    return _("Promised for %(day)s.") % {"day": day}


def answer_in_words(*, agreed: bool, on: date) -> str:
    """What the owner said, and when."""
    said = {"day": day_written(on)}
    return (_("You agreed on %(day)s.") if agreed else _("You declined on %(day)s.")) % said


def no_longer_asked(valid_until: date, *, over: bool) -> str:
    """Why an estimate that nobody answered cannot be agreed to."""
    if over:
        return _("This estimate was valid until %(day)s. Please ask us for a new one; you can still decline.") % {
            "day": day_written(valid_until)
        }
    return _("This estimate no longer stands: we are looking at your watch again, and write to you.")


def refused_in_words(refused: ValueError) -> str:
    """Why an answer was not taken, and what holds."""
    if isinstance(refused, AnsweredBefore):
        return _(
            "You answered this estimate before, and that answer stands. Please write to us if you think otherwise now."
        )
    if isinstance(refused, OutOfDate):
        return _(
            "The last day of this estimate has passed, so it is no longer valid. We gladly write a new one, just ask us."
        )
    return _("Your answer was not taken: we have written another estimate meanwhile, or the work went on. See below.")


def replaced_in_words(made_on: date) -> str:
    """That the estimate of this letter is not the one that counts."""
    return _("The estimate in this letter was replaced by a newer one of %(day)s. The newer one is shown here.") % {
        "day": day_written(made_on)
    }
