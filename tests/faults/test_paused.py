"""A sender that sleeps past its lease wakes up and harms nobody (reliability.md, F4). Real SIGSTOP and SIGCONT."""

import signal
from collections.abc import Callable

import pytest

from tests.faults.checker import assert_sent_once
from tests.faults.houses import Child, House, wait_until

pytestmark = pytest.mark.servers
OpenHouse = Callable[..., House]


def start_and_sleep(house: House, point: str) -> Child:
    """A sender that stopped at a point, as by SIGSTOP."""
    sleeper = house.start("send", faults=f"{point}:stop", until_settled=False)
    wait_until(lambda: sleeper.stopped, seconds=20, what=f"asleep at {point}")
    return sleeper


def asleep_at(house: House, point: str) -> Child:
    """One whose lease has run out since."""
    sleeper = start_and_sleep(house, point)
    house.leases_run_out()
    return sleeper


def wake(sleeper: Child) -> None:
    sleeper.signal(signal.SIGCONT)
    sleeper.wait(30)


@pytest.mark.parametrize("point", ["claimed", "before_dot"])
def test_a_sender_that_slept_before_the_dot_hangs_up_without_it(open_house: OpenHouse, point: str) -> None:
    house = open_house(owners=6)
    house.written()
    sleeper = asleep_at(house, point)
    assert house.do("send")["sent"] == 6
    wake(sleeper)
    found = assert_sent_once(house, letters=6)
    assert found.by_state["sent"] == 6
    assert sleeper.told(1)["sent"] == 0


@pytest.mark.parametrize("point", ["after_dot", "after_reply"])
def test_a_sender_that_slept_after_the_dot_settles_its_doubt_itself(open_house: OpenHouse, point: str) -> None:
    """Others took it to be dead. The server's 250 is proof, however late."""
    house = open_house(owners=6)
    house.written()
    sleeper = asleep_at(house, point)
    house.do("send")
    assert house.rows("SELECT count(*) FROM letters_letter WHERE state = 'in_doubt'") == [(1,)]
    wake(sleeper)
    assert assert_sent_once(house, letters=6).by_state["sent"] == 6


def test_a_sender_that_slept_at_the_dot_does_not_send_what_the_desk_sent_again(open_house: OpenHouse) -> None:
    """It had said "at the dot" and slept before it sent it; the desk decided, and another sender sent the letter."""
    house = open_house(owners=1, settings={"MAIL_DOT_SECONDS": 1}, dot_margin=0.0)
    house.written()
    sleeper = start_and_sleep(house, "at_the_dot")
    wait_until(lambda: house.do("sweep") == [0, 1], seconds=20, what="taken to be dead")
    [(letter,)] = house.rows("SELECT id FROM letters_letter WHERE state = 'in_doubt'")
    house.do("settle_doubt", letter=letter, how="sent_again")
    assert house.do("send")["sent"] == 1
    wake(sleeper)
    assert_sent_once(house, letters=1)
