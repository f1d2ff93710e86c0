"""What the page says of an answer, in the language that is active."""

from datetime import date

from django.utils.translation import gettext as _

from service_center.book.days import day_written
from service_center.intake.visits.models import Visit
from service_center.intake.visits.rules import VisitState
from service_center.intake.visits.wording import clock, full_day
from service_center.letters.models import Answer
from service_center.letters.rules.words import AnswerChoice


def answer_in_words(answer: Answer, today: date) -> str:
    """What stands written down of one piece, as it reads on a day."""
    said = {"day": day_written(answer.day) if answer.day else "", "boutique": str(answer.boutique or "")}
    if answer.choice == AnswerChoice.BOOKED and answer.day and answer.day < today:
        return _("You were going to bring it to %(boutique)s on %(day)s.") % said
    words = {
        AnswerChoice.BOOKED: _("You bring it to %(boutique)s on %(day)s."),
        AnswerChoice.NOT_NOW: _("Not now: we will not write to you about it before %(day)s."),
        AnswerChoice.DONE_ELSEWHERE: _("You told us that it was done elsewhere on %(day)s."),
        AnswerChoice.NO_LONGER_MINE: _(
            "You told us that it is no longer yours. We will not write to you about it again."
        ),
        AnswerChoice.NO_MORE_LETTERS: _("You get no more letters from us about the care of your watches."),
    }
    return words[AnswerChoice(answer.choice)] % said


def visit_in_words(visit: Visit, *, coming: bool) -> str:
    """Where and when an owner comes, or what became of it. `coming`: it is booked, and has not begun."""
    when = {"boutique": str(visit.boutique), "day": full_day(visit.day), "time": clock(visit.at)}
    if coming:
        return _("You come to %(boutique)s on %(day)s at %(time)s.") % when
    words = {
        VisitState.BOOKED: _("It was booked at %(boutique)s for %(day)s, %(time)s."),
        VisitState.CANCELLED: _("It was booked at %(boutique)s for %(day)s, %(time)s."),
        VisitState.CAME: _("You came to %(boutique)s on %(day)s, %(time)s."),
        VisitState.DID_NOT_COME: _("We expected you at %(boutique)s on %(day)s, %(time)s, and did not meet you."),
    }
    return words[VisitState(visit.state)] % when
