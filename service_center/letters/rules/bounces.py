"""What a report about a letter means: whether it stops an address, and what it proves of the letter itself."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from service_center.letters.rules.codes import Fault, Status, fault_of
from service_center.letters.rules.words import LetterState

# reliability.md, B2. One failure may be told twice, by mail and by the provider, or be tried again the same day.
SOFT_ONES_THAT_STOP = 3
SOFT_ONES_WITHIN = timedelta(days=30)
ONE_FAILURE = timedelta(days=1)


class Happened(StrEnum):
    """What a report says happened to a letter: the actions of RFC 3464, 2.3.3, and what owners say through others."""

    FAILED = "failed"
    DELAYED = "delayed"
    DELIVERED = "delivered"
    RELAYED = "relayed"
    EXPANDED = "expanded"
    COMPLAINED = "complained"
    UNSUBSCRIBED = "unsubscribed"


# Why a letter's state is what it is, where a report decided it and not the hand-over.
BY_REPORT = "settled by what came back"
# An owner who calls a letter unwanted, or leaves a list at the provider's, wants no more letters.
WANTS_NO_MORE = (Happened.COMPLAINED, Happened.UNSUBSCRIBED)


@dataclass(frozen=True, slots=True)
class SoftFailure:
    """A letter that could not be delivered for now, and when that was."""

    letter: int
    at: datetime


def enough_soft_ones(failures: Iterable[SoftFailure]) -> bool:
    """Whether failures for now stop the address they went to: three of them within thirty days.

    The same letter within a day counts once. The order in which they are told does not matter.
    """
    counted: list[SoftFailure] = []
    last: dict[int, datetime] = {}
    for one in sorted(failures, key=lambda one: one.at):
        if one.letter not in last or one.at - last[one.letter] >= ONE_FAILURE:
            counted.append(one)
            last[one.letter] = one.at
    first_and_last = zip(counted, counted[SOFT_ONES_THAT_STOP - 1 :], strict=False)
    return any(third.at - first.at <= SOFT_ONES_WITHIN for first, third in first_and_last)


def fault_told(happened: Happened, status: Status | None) -> Fault:
    """Whose fault a report speaks of. A delay is no verdict (RFC 3464, 2.3.3), unless it is the house's standing."""
    if happened is Happened.FAILED:
        return fault_of(status)
    if happened in WANTS_NO_MORE:
        return Fault.WISH
    policy = happened is Happened.DELAYED and status is not None and fault_of(status) is Fault.POLICY
    return Fault.POLICY if policy else Fault.NONE


def doubt_settled(happened: Iterable[Happened]) -> LetterState | None:
    """What all reports about a letter in doubt prove together; None where there are none.

    Any report proves that a server had it. It was refused where every word of its end is that it failed.
    """
    seen = set(happened)
    if not seen:
        return None
    arrived = seen & {Happened.DELIVERED, Happened.EXPANDED, Happened.COMPLAINED}
    return LetterState.REFUSED if Happened.FAILED in seen and not arrived else LetterState.SENT
