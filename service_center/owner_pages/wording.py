"""What the page says of an answer, in the language that is active."""

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from service_center.intake.visits.models import Visit
from service_center.intake.visits.wording import clock, full_day
from service_center.letters.models import Answer
from service_center.letters.rules.words import AnswerChoice


def answer_in_words(answer: Answer) -> str:
    """What stands written down of one piece."""
    said = {"day": date_format(answer.day) if answer.day else "", "boutique": str(answer.boutique or "")}
    words = {
        AnswerChoice.BOOKED: _("You bring it to %(boutique)s on %(day)s."),
        AnswerChoice.NOT_NOW: _("Not now: we do not write to you about it before %(day)s."),
        AnswerChoice.DONE_ELSEWHERE: _("You told us that it was done elsewhere on %(day)s."),
        AnswerChoice.NO_LONGER_MINE: _(
            "You told us that it is no longer yours. We do not write to you about it again."
        ),
        AnswerChoice.NO_MORE_LETTERS: _("You get no more letters from us about the care of your watches."),
    }
    return words[AnswerChoice(answer.choice)] % said


def visit_in_words(visit: Visit) -> str:
    """Where and when an owner comes."""
    when = {"boutique": str(visit.boutique), "day": full_day(visit.day), "time": clock(visit.at)}
    return _("You come to %(boutique)s on %(day)s at %(time)s.") % when
