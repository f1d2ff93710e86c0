"""Senders die at any moment: nothing goes out twice, nothing is lost (reliability.md, F1 and F2)."""

import random
import signal
from collections.abc import Callable

import pytest

from tests.faults.checker import assert_sent_once, told_sent
from tests.faults.houses import IN_A_HURRY, House, wait_until
from tests.faults.kills import POINTS, die_at, send_under_fire

pytestmark = pytest.mark.servers
OpenHouse = Callable[..., House]


def test_senders_killed_at_random_moments_send_each_letter_once(open_house: OpenHouse, chance: random.Random) -> None:
    """The short version; `python -m tests.faults.long` kills more than two hundred senders over 2,000 letters."""
    house = open_house(owners=120, settings=IN_A_HURRY)
    house.written()
    house.sink.think = lambda: chance.uniform(0, 0.01)
    killing = send_under_fire(house, chance, letters=120, kills=15, senders=3, seconds=60)
    found = assert_sent_once(house, letters=120, kills=killing.kills)
    assert told_sent(killing.senders) <= found.by_state["sent"]
    assert len(house.do("listed", state="in_doubt")) == found.by_state["in_doubt"]
    assert "Traceback" not in house.log


def test_a_sender_that_ends_at_any_point_loses_nothing_and_doubts_only_what_cannot_be_known(
    open_house: OpenHouse, chance: random.Random
) -> None:
    house = open_house(owners=60)
    house.written()
    doubts = 0
    for point, doubtful in POINTS.items():
        for deed in ("exit", "raise"):
            die_at(house, point, deed, chance.randint(1, 3))
            doubts += doubtful
            found = house.rows("SELECT count(*) FROM letters_letter WHERE state = 'in_doubt'")
            assert found == [(doubts,)], (point, deed)
    house.do("send")
    assert_sent_once(house, letters=60, kills=doubts)


def test_a_letter_that_cannot_be_written_is_held_and_those_behind_it_go(open_house: OpenHouse) -> None:
    house = open_house(owners=5)
    house.written()
    assert house.do("send", faults="composing:raise:2")["sent"] == 4
    [(_letter, state, reason)] = house.rows("SELECT id, state, reason FROM letters_letter WHERE state <> 'sent'")
    assert (state, reason) == ("held", "it could not be written: InjectedFault")


@pytest.mark.parametrize("journal", ["there", "lost"])
def test_a_kill_before_the_next_dot_leaves_at_most_one_doubt_and_the_handful_goes_back(
    open_house: OpenHouse, journal: str
) -> None:
    """The server took two letters; that it took the second was to be written with the third one's dot."""
    house = open_house(owners=8)
    house.written()
    house.start("send", faults="before_dot:exit:3", until_settled=False).wait(30)
    assert house.rows("SELECT state, count(*) FROM letters_letter GROUP BY state ORDER BY state") == [
        ("at_the_dot", 1), ("handing_over", 6), ("sent", 1),
    ]  # fmt: skip
    if journal == "lost":
        (house.folder / "sent.journal").unlink()
    house.leases_run_out()
    assert house.do("sweep") == [6, 0 if journal == "there" else 1]
    house.do("send")
    found = assert_sent_once(house, letters=8, kills=1)
    assert found.by_state["in_doubt"] == (0 if journal == "there" else 1)
    assert found.delivered == 8


def test_a_sender_asleep_before_the_next_dot_loses_nothing_of_what_it_knew(open_house: OpenHouse) -> None:
    """Others take it to be dead, and the journal tells them what it knew: the desk has no doubt to decide."""
    house = open_house(owners=4)
    house.written()
    sleeper = house.start("send", faults="before_dot:stop:2", until_settled=False)
    wait_until(lambda: sleeper.stopped, seconds=20, what="asleep")
    house.leases_run_out()
    assert house.do("send")["sent"] == 3
    sleeper.signal(signal.SIGCONT)
    sleeper.wait(30)
    assert assert_sent_once(house, letters=4).by_state["sent"] == 4
