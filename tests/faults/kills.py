"""Senders that are killed at random moments, until all is out (F1)."""

import random
import time
from dataclasses import dataclass

from tests.faults.houses import Child, House, wait_until


@dataclass(frozen=True, slots=True)
class Killing:
    """What was done: how many kills met a living sender, how long it took, and every sender there was."""

    kills: int
    seconds: float
    senders: list[Child]


def send_under_fire(
    house: House, chance: random.Random, *, letters: int, kills: int, senders: int, seconds: float
) -> Killing:
    """Keep so many senders at work, and kill -9 one of them, at a random moment, as often as each n letters are out.

    For each another starts. Fails where the letters are not out after so many seconds.
    """
    started = time.monotonic()
    at_work = [house.start("send") for _number in range(senders)]
    everyone = list(at_work)
    done = 0
    while done < kills:
        out = letters * done // (kills + 1)
        wait_until(lambda: house.sink.count >= out, seconds=seconds, what=f"{out} letters are out")  # noqa: B023
        time.sleep(chance.uniform(0, 0.1))
        at = chance.randrange(senders)
        assert at_work[at].kill(), f"the letters were out after {done} kills"
        done += 1
        at_work[at] = house.start("send")
        everyone.append(at_work[at])
    wait_until(lambda: not any(child.alive for child in at_work), seconds=seconds, what="the letters are out")
    return Killing(done, time.monotonic() - started, everyone)


# Every point of the code at which a sender may be made to end, and whether that leaves a doubt. What the journal has
# been told is none, whatever the database knew.
POINTS = {
    "claimed": False,
    "before_dot": False,
    "at_the_dot": True,
    "after_dot": True,
    "after_reply": True,
    "journaled": False,
    "settled": False,
}


def die_at(house: House, point: str, deed: str, nth: int) -> None:
    """A sender comes to a point for the n-th time and ends there. Then its lease runs out, and somebody looks."""
    # The last letter of a claim is settled by itself: one letter a claim where that is the point.
    claims = 1 if point in {"claimed", "settled"} else 20
    nth = 1 if point == "claimed" else nth
    child = house.start("send", faults=f"{point}:{deed}:{nth}", until_settled=False, at_once=claims)
    child.wait(30)
    assert not child.spoke or child.told(1)["errors"], (point, child.told(1))
    house.leases_run_out()
    house.do("sweep")
