"""What an owner may answer and ask, between which days, and which of a piece's days are theirs (design/letters.md)."""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from service_center.intervals.rules import add_months
from service_center.letters.rules.words import AnswerChoice, LetterState

# A visit within the life of the link's bookings; a pause no longer than two years, so that nobody is forgotten.
BOOKING_DAYS = 180
PAUSE_DAYS = 730
# What a form offers before the owner chooses.
USUAL_BOOKING_DAYS = 7
USUAL_PAUSE_DAYS = 91
# After a visit that was given up: the wish to come is fresh.
ASK_AGAIN_DAYS = 28

# Days between asking for another e-mail address and the last one on which the link in the mail to it opens.
CONFIRM_DAYS = 7
# The purpose of the secret in the mail to a new e-mail address.
CONFIRM = "address"
# How often an owner may take a copy of their data in a day.
COPIES_A_DAY = 5
# What one request for a correction holds: a person has to read it.
CORRECTION_CHARACTERS = 10_000
# Each sends two mails: nobody makes the house write to strangers.
EMAIL_CHANGES_A_DAY = 3


class RequestKind(StrEnum):
    """What an owner asks about their data (GDPR, Art. 15 to 17 and 20)."""

    COPY = "copy"
    DETAILS = "details"  # corrected by the owner themselves, written down for the desk to see
    NAME = "name"
    CORRECTION = "correction"
    ERASURE = "erasure"


class RequestState(StrEnum):
    """What became of it."""

    OPEN = "open"
    DONE = "done"
    DECLINED = "declined"


class NoticeKind(StrEnum):
    """Which of the two mails about another e-mail address."""

    CONFIRM = "confirm"  # to the new one: only its reader can confirm
    TELL_BEFORE = "tell_before"  # to the one before: its reader learns of it


# In these a mail to a new address never arrived, and nobody tries it again.
NOT_TAKEN = frozenset({LetterState.REFUSED, LetterState.ENDED})


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


def confirm_until(asked: datetime, zone: ZoneInfo) -> datetime:
    """When the link that confirms an address closes: with the end of the last day, by its owner's clock."""
    day_after = asked.astimezone(zone).date() + timedelta(days=CONFIRM_DAYS + 1)
    return datetime.combine(day_after, time(), zone).astimezone(UTC)


def last_day(until: datetime, zone: ZoneInfo) -> date:
    """The last day on which something that closes at a moment is open, by an owner's clock."""
    return (until.astimezone(UTC) - timedelta(microseconds=1)).astimezone(zone).date()


def answer_by(asked_on: date) -> date:
    """The last day to answer a request: one month (GDPR, Art. 12(3); design/facts.md, 7)."""
    return add_months(asked_on, 1)


def version_of(said: str) -> str:
    """A short word that differs where two texts do: which words somebody had before them."""
    return hashlib.sha256(said.encode()).hexdigest()[:16]


def hash_secret(purpose: str, secret: str) -> str:
    """SHA-256 of "purpose|secret", hex: what is kept of a secret that opens nothing but its purpose."""
    return hashlib.sha256(f"{purpose}|{secret}".encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class OwnTime:
    """The days on which a piece was one owner's, as far as the records tell. None: no end on that side."""

    after: date | None
    until: date | None

    def holds(self, day: date) -> bool:
        """Whether what happened on that day happened in the owner's time."""
        return (self.after is None or day > self.after) and (self.until is None or day <= self.until)


def own_time(records: Iterable[tuple[date, int]], owner: int, *, still: bool) -> OwnTime | None:
    """One owner's time with a piece, from the days on which it is recorded with an owner; None without any.

    The book keeps no day on which a piece changes hands: what lies between two owners' records is shown to neither.
    `still`: it is theirs now.
    """
    known = list(records)
    own = [day for day, whose in known if whose == owner]
    others = [day for day, whose in known if whose != owner]
    if still:
        return OwnTime(max(others, default=None), None)
    if not own:
        return None
    return OwnTime(max((day for day in others if day < min(own)), default=None), max(own))
