"""The mail server refuses, drops or falls silent at each phase: the letter ends as letters.md says (F3)."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest

from tests.faults.checker import check
from tests.faults.houses import House
from tests.letters.sink import Failure

pytestmark = pytest.mark.servers
OpenHouse = Callable[..., House]

# A busy machine may take its time over an answer; only where none is to come is the sender in a hurry.
PATIENCE, HURRY = 10, 1.0
SILENT = 6.0
FAILURES: dict[str, Failure] = {
    "4xx": "451 4.3.0 not now",
    "5xx": "554 5.7.1 no",
    "421": "421 4.3.2 closing",
    "drop": "drop",
    "silence": SILENT,
}


def patience_with(failure: str) -> dict[str, float]:
    """How long a sender waits for an answer."""
    seconds = HURRY if failure == "silence" else PATIENCE
    return {"EMAIL_TIMEOUT": seconds, "MAIL_DOT_SECONDS": seconds, "LETTER_LEASE_SECONDS": 60}


@dataclass(frozen=True, slots=True)
class Case:
    """What fails, and where the letter stands at once. `tried`: a letter was to blame, so that its tries were counted."""

    phase: str
    failure: str
    ends: str
    tried: bool = True


def cases() -> Iterator[Case]:
    for failure in FAILURES:
        # No session: no letter is to blame.
        yield Case("connect", failure, "waiting", tried=False)
        # Before the dot nothing was handed over.
        for phase in ("mail", "rcpt", "data"):
            yield Case(phase, failure, "refused" if failure == "5xx" else "waiting")
        # The end of the session is no matter of the letter before it.
        yield Case("quit", failure, "sent")
    # A server that knows no EHLO is greeted the old way (RFC 5321, 3.2).
    yield from (Case("ehlo", failure, "sent") for failure in ("4xx", "5xx"))
    yield from (Case("ehlo", failure, "waiting", tried=False) for failure in ("421", "drop", "silence"))
    # After the dot: an answer is an answer, anything else is doubt.
    yield from (Case(phase, "4xx", "waiting") for phase in ("dot", "after"))
    yield from (Case(phase, "421", "waiting") for phase in ("dot", "after"))
    yield from (Case(phase, "5xx", "refused") for phase in ("dot", "after"))
    yield from (Case(phase, failure, "in_doubt") for phase in ("dot", "after") for failure in ("drop", "silence"))
    # Silence within the message is noticed once the dot is out. (A drop there: tests/letters/test_sending.py.)
    yield Case("body", "silence", "in_doubt")


@pytest.mark.parametrize("together", [False, True], ids=["one command at a time", "commands together"])
def test_each_failure_at_each_phase_ends_in_the_state_that_the_design_names(
    open_house: OpenHouse, *, together: bool
) -> None:
    house = open_house(owners=60)
    house.sink.pipelining = together
    house.written()
    letters = [letter for (letter,) in house.rows("SELECT id FROM letters_letter ORDER BY not_before, id")]
    house.write("UPDATE letters_letter SET state = 'held'")
    wrong, delivered = [], 0
    for case, letter in zip(cases(), letters, strict=False):
        house.write(f"UPDATE letters_letter SET state = 'waiting' WHERE id = {letter}")
        house.sink.fail(case.phase, FAILURES[case.failure])
        house.settings = patience_with(case.failure)
        house.do("send", until_settled=False)
        [(state, attempt)] = house.rows(f"SELECT state, attempt FROM letters_letter WHERE id = {letter}")
        # A server that takes a message and then says no, or nothing, has it all the same.
        delivered += state == "sent" or case.phase == "after"
        if (state, attempt) != (case.ends, int(case.tried)) or len(house.sink.messages) != delivered:
            wrong.append((case, state, attempt, len(house.sink.messages), delivered))
        house.write(f"UPDATE letters_letter SET state = 'held' WHERE id = {letter} AND state = 'waiting'")
    assert wrong == []


@pytest.mark.parametrize("failure", FAILURES)
def test_a_failure_between_two_letters_touches_neither_the_one_before_nor_loses_the_one_behind(
    open_house: OpenHouse, failure: str
) -> None:
    """After a refusal the next letter begins with RSET."""
    house = open_house(owners=3, settings=patience_with(failure))
    house.written()
    house.sink.fail("rcpt", "550 5.1.1 no such mailbox")
    house.sink.fail("rset", FAILURES[failure])
    house.do("send", until_settled=False)
    house.pauses_are_over()
    house.do("send", until_settled=False)
    found = check(house)
    assert (found.by_state, found.twice, found.delivered) == ({"refused": 1, "sent": 2}, [], 2)
