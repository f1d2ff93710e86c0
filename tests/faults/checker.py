"""Compares what the mail server has, what the database says, what the journal keeps, and what callers were told."""

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from tests.faults.houses import Child, House
from tests.letters.sink import Received

MESSAGE_ID = re.compile(rb"^Message-ID: (<[^>\r\n]+>)", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Found:
    """What a check found. `twice`: Message-IDs that reached the server more than once."""

    letters: int
    by_state: Counter[str]
    twice: list[str]
    said_sent_but_not_there: list[str]
    there_but_to_be_sent_again: list[str]
    delivered: int

    @property
    def lost(self) -> int:
        """Letters that are neither out, nor on the desk's list, nor to go out."""
        known = ("sent", "in_doubt", "waiting", "handing_over", "at_the_dot", "refused", "held", "ended")
        return self.letters - sum(self.by_state[state] for state in known) + len(self.said_sent_but_not_there)


def id_of(message: Received) -> str:
    """The Message-ID, read off the bytes as they came."""
    found = MESSAGE_ID.search(message.content)
    assert found is not None
    return found[1].decode()


def check(house: House) -> Found:
    """Look at everything. Asserts nothing."""
    there = Counter(id_of(message) for message in house.sink.messages)
    rows = house.rows("SELECT message_id, state FROM letters_letter")
    again = {"waiting", "handing_over", "held"}
    return Found(
        letters=len(rows),
        by_state=Counter(state for _id, state in rows),
        twice=[one for one, times in there.items() if times > 1],
        said_sent_but_not_there=[one for one, state in rows if state == "sent" and one not in there],
        there_but_to_be_sent_again=[one for one, state in rows if state in again and one in there],
        delivered=len(there),
    )


def assert_sent_once(house: House, *, letters: int, kills: int = 0) -> Found:
    """Nothing is on its way any more: each letter is out once, or in doubt, and doubts are no more than kills."""
    found = check(house)
    assert found.twice == [], "sent twice"
    assert found.said_sent_but_not_there == [], "said to be sent, and never arrived"
    assert found.there_but_to_be_sent_again == [], "arrived, and would go out again"
    assert found.letters == letters
    assert found.by_state["sent"] + found.by_state["in_doubt"] == letters, dict(found.by_state)
    assert found.by_state["in_doubt"] <= kills
    # Whatever arrived is known: nothing came that no letter stands for.
    known = {one for (one,) in house.rows("SELECT message_id FROM letters_letter")}
    assert {id_of(message) for message in house.sink.messages} <= known
    _each_piece_is_written_about_once(house)
    return found


def told_sent(children: Iterable[Child]) -> int:
    """How many letters senders that came to their end said they had sent."""
    return sum(child.told(1)["sent"] for child in children if child.spoke)


def _each_piece_is_written_about_once(house: House) -> None:
    keys = house.rows("SELECT piece_id, kind, starts_on, step FROM letters_reminder WHERE ended_on IS NULL")
    assert max(Counter(keys).values(), default=0) <= 1
