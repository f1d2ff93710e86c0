"""What an owner may answer about a piece, and between which days (design/letters.md, the owner's side)."""

from dataclasses import dataclass
from datetime import date, timedelta

from service_center.letters.rules.words import AnswerChoice

# A visit within the life of the link's bookings; a pause no longer than two years, so that nobody is forgotten.
BOOKING_DAYS = 180
PAUSE_DAYS = 730
# What a form offers before the owner chooses.
USUAL_BOOKING_DAYS = 7
USUAL_PAUSE_DAYS = 91
# After a visit that was given up: the wish to come is fresh.
ASK_AGAIN_DAYS = 28


@dataclass(frozen=True, slots=True)
class Days:
    """The first and the last day that an answer may name, both included, and the one that its form proposes."""

    first: date
    last: date
    proposed: date | None

    def hold(self, day: date) -> bool:
        """Whether the answer may name that day."""
        return self.first <= day <= self.last


def days_for(choice: AnswerChoice, *, today: date, starts_on: date) -> Days | None:
    """The days that an answer given today may name; None for an answer that names none.

    `starts_on` is the day the interval counts from: a service done elsewhere before it would change nothing.
    """
    match choice:
        case AnswerChoice.BOOKED:
            return Days(_later(today, 1), _later(today, BOOKING_DAYS), _later(today, USUAL_BOOKING_DAYS))
        case AnswerChoice.NOT_NOW:
            return Days(_later(today, 1), _later(today, PAUSE_DAYS), _later(today, USUAL_PAUSE_DAYS))
        case AnswerChoice.DONE_ELSEWHERE:
            return Days(min(starts_on, today), today, None)
        case _:
            return None


def _later(day: date, days: int) -> date:
    return day + timedelta(days=days)
