"""Whose fault it is that a letter did not arrive, by the enhanced status codes of RFC 3463 (facts.md, 7).

Codes that came later, such as 5.1.10 (RFC 7505), stand in the registry that RFC 5248 set up.
"""

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Self

# "5.1.1", and not a part of something longer, such as the address 10.5.1.1.
ENHANCED = re.compile(r"(?<![\w.])([245])\.(\d{1,3})\.(\d{1,3})(?![\w]|\.\d)")


class Fault(StrEnum):
    """Whose fault it is, and so what follows."""

    ADDRESS = "address"  # nobody gets mail there: it is written to no more
    FOR_NOW = "for_now"  # full, busy, away, or for no reason given: counts
    POLICY = "policy"  # the house's standing or its mail's proof of origin: an alarm for the house
    MESSAGE = "message"  # what was handed over, or how: the house mends it
    WISH = "wish"  # nobody's: the owner wants no letters
    NONE = "none"  # nothing failed


@dataclass(frozen=True, slots=True)
class Status:
    """class.subject.detail (RFC 3463, 2)."""

    kind: int
    subject: int
    detail: int

    @classmethod
    def found_in(cls, text: str) -> Self | None:
        """The first code in a text that says more than "undefined" (x.0.0); that one where there is no other."""
        found = [cls(int(one[1]), int(one[2]), int(one[3])) for one in ENHANCED.finditer(text)]
        return next((one for one in found if one.says_why), found[0] if found else None)

    @property
    def says_why(self) -> bool:
        """Whether it is more than "other undefined status" (RFC 3463, 3.1)."""
        return (self.subject, self.detail) != (0, 0)

    def __str__(self) -> str:
        return f"{self.kind}.{self.subject}.{self.detail}"


# RFC 3463, 3.2, 3.3 and 3.5: other address status, no such mailbox, no such system, bad syntax, ambiguous, moved;
# takes no mail at all (RFC 7505); mailbox disabled; no route.
NOBODY_THERE = {(1, 0), (1, 1), (1, 2), (1, 3), (1, 4), (1, 6), (1, 10), (2, 1), (4, 4)}
# 3.2: the sender's own address is not taken. The house's matter, as all of security and policy (3.8).
NOT_FROM_THAT_SENDER = {(1, 7), (1, 8)}
# 3.3 and 3.4: too long for the mailbox, too big for the system.
TOO_BIG = {(2, 3), (3, 4)}
PROTOCOL, CONTENT, SECURITY = 5, 6, 7


def fault_of(status: Status | None) -> Fault:  # noqa: PLR0911  # a table of cases
    """Whose fault a failure is. Without a code it counts as one for now: nothing proves that the address is dead."""
    if status is None:
        return Fault.FOR_NOW
    why = (status.subject, status.detail)
    if status.kind == 2:
        return Fault.NONE
    if status.subject == SECURITY:
        return Fault.POLICY
    if status.kind == 4:
        return Fault.FOR_NOW
    if why in NOBODY_THERE:
        return Fault.ADDRESS
    if why in NOT_FROM_THAT_SENDER:
        return Fault.POLICY
    return Fault.MESSAGE if why in TOO_BIG or status.subject in (PROTOCOL, CONTENT) else Fault.FOR_NOW


def most_telling(*texts: str) -> Status | None:
    """The code to judge by, of several texts in the order of their weight: the first that says why."""
    found = [status for text in texts if (status := Status.found_in(text))]
    return next((one for one in found if one.says_why), found[0] if found else None)
