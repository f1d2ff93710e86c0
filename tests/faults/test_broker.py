"""The broker forgets, dies, comes back empty and freezes: the database delivers (reliability.md, F7)."""

import contextlib
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.faults.checker import assert_sent_once
from tests.faults.houses import POSTGRESQL, SQLITE, Patterns
from tests.faults.works import Redis, Works, at_work

pytestmark = pytest.mark.servers
BATCH = 10
IN_TIME = 120  # seconds after a fault within which its letters are out


@pytest.fixture
def redis(tmp_path: Path) -> Iterator[Redis]:
    broker = Redis(tmp_path / "redis")
    broker.start()
    yield broker
    broker.close()


def forgets(redis: Redis, ring: Callable[[], None], _works: list[Works]) -> None:
    ring()
    redis.forget()


def dies_and_comes_back_empty(redis: Redis, ring: Callable[[], None], _works: list[Works]) -> None:
    redis.kill()
    ring()
    time.sleep(1)
    redis.start()


def freezes(redis: Redis, ring: Callable[[], None], _works: list[Works]) -> None:
    redis.freeze()
    ring()
    time.sleep(6)  # longer than a worker waits for it
    redis.thaw()


def dies_with_a_worker(redis: Redis, ring: Callable[[], None], works: list[Works]) -> None:
    redis.kill()
    for one in works:
        one.replace(0)
    redis.start()
    ring()


FAULTS = (forgets, dies_and_comes_back_empty, freezes, dies_with_a_worker)


def test_whatever_the_broker_does_every_letter_goes_out_once_and_in_time(patterns: Patterns, redis: Redis) -> None:
    """A house on each database, over one Redis: the same fault meets both at once."""
    with contextlib.ExitStack() as stack:
        houses, works = [], []
        for number, vendor in enumerate((SQLITE, POSTGRESQL)):
            house = stack.enter_context(patterns.house(vendor, owners=BATCH * len(FAULTS)))
            house.written()
            house.do("no_round_today")
            house.write("UPDATE letters_letter SET state = 'held'")
            houses.append(house)
            works.append(stack.enter_context(at_work(house, f"{redis.url}/{number}")))

        def ring() -> None:
            """Letters are ready now, and whoever made them so rings."""
            for number, house in enumerate(houses):
                some = f"SELECT id FROM letters_letter WHERE state = 'held' ORDER BY id LIMIT {BATCH}"
                house.write(f"UPDATE letters_letter SET state = 'waiting' WHERE id IN ({some})")
                assert house.do("ring", broker=f"{redis.url}/{number}") < 5

        for number, fault in enumerate(FAULTS, start=1):
            fault(redis, ring, works)
            for one in works:
                one.out(number * BATCH, seconds=IN_TIME, after=fault.__name__)
        for house in houses:
            # A worker may have been killed with a letter at the dot.
            assert_sent_once(house, letters=BATCH * len(FAULTS), kills=1)
