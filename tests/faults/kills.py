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
    house: House, chance: random.Random, *, kills: int, senders: int, pause: tuple[float, float], seconds: float
) -> Killing:
    """Keep so many senders at work; kill -9 one of them after each pause, and start another. Then let them finish."""
    started = time.monotonic()
    at_work = [house.start("send") for _number in range(senders)]
    everyone = list(at_work)
    done = 0
    while done < kills and time.monotonic() - started < seconds:
        time.sleep(chance.uniform(*pause))
        at = chance.randrange(senders)
        done += at_work[at].kill()
        at_work[at] = house.start("send")
        everyone.append(at_work[at])
    wait_until(lambda: not any(child.alive for child in at_work), seconds=seconds, what="the letters are out")
    return Killing(done, time.monotonic() - started, everyone)


# Every point of the code at which a sender may be made to end, and whether that leaves a doubt.
POINTS = {
    "claimed": False,
    "before_dot": False,
    "at_the_dot": True,
    "after_dot": True,
    "after_reply": True,
    "journaled": True,
    "settled": False,
}


def die_at(house: House, point: str, deed: str, nth: int) -> None:
    """A sender comes to a point for the n-th time and ends there. Then its lease runs out, and somebody looks."""
    claims = 1 if point == "claimed" else 20
    nth = 1 if point == "claimed" else nth
    child = house.start("send", faults=f"{point}:{deed}:{nth}", until_settled=False, at_once=claims)
    child.wait(30)
    assert not child.spoke or child.told(1)["errors"], (point, child.told(1))
    house.leases_run_out()
    house.do("sweep")
