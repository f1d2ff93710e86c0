"""What a mail server's answer means for a letter (design/letters.md, sent once; reliability.md, B2)."""

from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum

from service_center.letters.rules.codes import Fault, Status, fault_of
from service_center.letters.rules.words import LetterState

# RFC 5321, 4.5.4.1 asks for growing pauses and four to five days at least before giving up.
PAUSES = (timedelta(minutes=5), timedelta(minutes=30), timedelta(hours=2), timedelta(hours=8), *[timedelta(days=1)] * 7)


class Phase(StrEnum):
    """Where in handing over one letter the server answered, or fell silent."""

    SENDER = "sender"
    RECIPIENT = "recipient"
    DATA = "data"
    BODY = "body"
    DOT = "dot"


@dataclass(frozen=True, slots=True)
class Outcome:
    """The server's last word on one letter. `code` None: no word, the line dropped or the wait was too long."""

    phase: Phase
    code: int | None
    text: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """The state that follows, and whose fault a refusal for good is."""

    state: LetterState
    fault: Fault = Fault.NONE


def verdict(outcome: Outcome) -> Verdict:
    """The one place that reads reply codes.

    Before the dot nothing was handed over, whatever happened; after it silence cannot be told from success.
    """
    match outcome.code:
        case None:
            return Verdict(LetterState.IN_DOUBT if outcome.phase is Phase.DOT else LetterState.WAITING)
        case code if 500 <= code <= 599:
            return Verdict(LetterState.REFUSED, fault_in(outcome))
        case code if 200 <= code <= 299 and outcome.phase is Phase.DOT:
            return Verdict(LetterState.SENT)
        case code if 400 <= code <= 499:
            return Verdict(LetterState.WAITING)
    # An answer that no server should give here: before the dot harmless, at the dot it proves nothing.
    return Verdict(LetterState.IN_DOUBT if outcome.phase is Phase.DOT else LetterState.WAITING)


def fault_in(outcome: Outcome) -> Fault:
    """Whose fault a refusal is: by the enhanced code; without one, by whether the recipient itself was refused."""
    status = Status.found_in(outcome.text)
    if status is None and outcome.phase is Phase.RECIPIENT and outcome.code in (550, 551, 553):
        return Fault.ADDRESS
    return fault_of(status)


def pause_after(refusals: int, letter: int) -> timedelta | None:
    """How long a letter rests after its n-th temporary refusal (from 1); None: the last try was made.

    Up to a tenth is added by the letter's id, so that many letters do not come back in one moment.
    """
    if refusals > len(PAUSES):
        return None
    return PAUSES[refusals - 1] * (1 + (letter * 2_654_435_761 % 1_000) / 10_000)
