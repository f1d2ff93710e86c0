"""From which day a letter speaks: what is known by then it may say, and what lies behind it is past."""

from dataclasses import dataclass
from datetime import date

from service_center.letters.rules.words import LetterState

# These are still to go. Nothing of any other that never came to the dot is said: it is read as it was planned.
STILL_HERE = (LetterState.WAITING, LetterState.HANDING_OVER, LetterState.HELD)


@dataclass(frozen=True, slots=True)
class OnItsWay:
    """How far a letter has come, in days where its owner lives. `by_hand`: told by telephone or sent on paper.

    `out_on`: when it went out; where that cannot be known, when it came to the dot.
    """

    state: LetterState
    planned_on: date
    out_on: date | None
    by_hand: bool = False


def speaks_from(letter: OnItsWay, today: date) -> date:
    """The day of the letter's words: the one on which it is handed over, and for ever after the one on which it was.

    One that is still here would go today, and never before its planned day. One that came to the dot goes again as the
    same message; one that came back and is to be told by hand is told anew.
    """
    told_anew = letter.by_hand and letter.state is LetterState.HELD
    if letter.out_on and not told_anew:
        # Whoever works as of an earlier day knows of no later one.
        return max(letter.planned_on, min(letter.out_on, today))
    return max(letter.planned_on, today) if letter.state in STILL_HERE else letter.planned_on
