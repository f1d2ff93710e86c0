"""Whether a round is so unusual that a person should look at it before anything goes out (letters.md, sent once)."""

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from service_center.letters.rules.words import Unusual

DAYS_AHEAD = 7
TIMES_THE_MOST = 3
ROUNDS_LOOKED_AT = 28
# The reason of a letter while its round is at work, and where the desk is to look at it first.
BY_ROUND = "its round was not let go yet"


class Asked(StrEnum):
    """Who asked for a round. A person who has looked at it already says so: nothing of theirs is held."""

    BY_CLOCK = "by_clock"
    BY_HAND = "by_hand"
    CONFIRMED = "confirmed"


@dataclass(frozen=True, slots=True)
class Before:
    """The rounds so far, those left out that are held or were taken back.

    `last_day`: that of the latest one. `most_letters`: the most that one of the last 28 wrote. `ever_wrote`: whether
    any wrote a letter at all. `restored`: a backup was brought back since, and nobody has said yet that mail goes on.
    """

    last_day: date | None = None
    most_letters: int = 0
    ever_wrote: bool = False
    restored: bool = False


def unusual_day(day: date, before: Before, asked: Asked) -> Unusual | None:
    """Whether a round comes after a restore, or its day lies behind the last, or more than a week ahead of it.

    What went out after the backup, and stands in no journal, a round would write once more. A house that never wrote a
    letter has no last round to speak of.
    """
    if asked is Asked.CONFIRMED:
        return None
    if before.restored:
        return Unusual.RESTORED
    if not before.ever_wrote or before.last_day is None:
        return None
    if day < before.last_day:
        return Unusual.BEHIND
    return Unusual.AHEAD if day > before.last_day + timedelta(days=DAYS_AHEAD) else None


def usual_letters(before: Before, *, at_least: int) -> int:
    """The most letters of one day that are usual: three times the most of the last 28 rounds, or the house's number."""
    return max(at_least, TIMES_THE_MOST * before.most_letters)


def unusually_many(letters: int, before: Before, asked: Asked, *, at_least: int) -> bool:
    """Whether a day has far more letters than usual.

    The first letters of a house have nothing to be measured by: whoever asks for them by hand has them, the clock
    writes no more of them than the house's number.
    """
    if asked is Asked.CONFIRMED or (asked is Asked.BY_HAND and not before.ever_wrote):
        return False
    return letters > usual_letters(before, at_least=at_least)
