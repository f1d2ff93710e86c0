"""The database goes away and comes back: no letter leaves meanwhile without a claim, and workers return alone (F8)."""

import contextlib
import tempfile
import time
from collections.abc import Iterator
from contextlib import AbstractContextManager
from pathlib import Path

import pytest

from tests.faults.checker import assert_sent_once
from tests.faults.houses import POSTGRESQL, SQLITE, House, Patterns, wait_until
from tests.faults.works import Postgres, Redis, at_work

pytestmark = pytest.mark.servers
LETTERS, WORKERS, AWAY, RECOVERY = 40, 2, 3.0, 60


@contextlib.contextmanager
def house_of_its_own(patterns: Patterns) -> Iterator[tuple[House, AbstractContextManager[None]]]:
    """On a PostgreSQL that nobody else needs, and that server's absence."""
    with contextlib.ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="service-center-faults-")))
        server = Postgres(folder / "server")
        stack.callback(server.close)
        server.start()
        own = Patterns(folder, server.url, patterns.yard)
        house = stack.enter_context(own.house(POSTGRESQL, owners=LETTERS))

        @contextlib.contextmanager
        def stopped() -> Iterator[None]:
            server.stop()
            try:
                yield
            finally:
                server.start()

        yield house, stopped()


@contextlib.contextmanager
def house_to_lock(patterns: Patterns) -> Iterator[tuple[House, AbstractContextManager[None]]]:
    """On SQLite, and somebody who keeps the file to themselves."""
    with patterns.house(SQLITE, owners=LETTERS) as house:

        @contextlib.contextmanager
        def locked() -> Iterator[None]:
            with house.connected() as connection:
                connection.execute("BEGIN EXCLUSIVE")
                yield
                connection.rollback()

        yield house, locked()


@pytest.mark.parametrize("open_house", [house_to_lock, house_of_its_own], ids=[SQLITE, POSTGRESQL])
def test_while_the_database_is_away_no_letter_leaves_and_all_go_once_it_is_back(
    patterns: Patterns, tmp_path: Path, open_house
) -> None:
    with contextlib.ExitStack() as stack:
        house, away = stack.enter_context(open_house(patterns))
        house.written()
        house.do("no_round_today")
        # From the tenth letter on the server takes its time, so that the others are not out before the database is away.
        house.sink.think = lambda: 0.1 if house.sink.count < LETTERS // 4 else 1.0
        redis = Redis(tmp_path / "redis")
        redis.start()
        stack.callback(redis.close)
        works = stack.enter_context(at_work(house, redis.url))
        house.sink.wait_for(LETTERS // 4, seconds=60)
        with away:
            before = len(house.sink.messages)
            time.sleep(AWAY)
            # Whoever was at the dot when it happened had the commit that this takes.
            assert before <= len(house.sink.messages) <= before + WORKERS
            house.sink.think = lambda: 0.1
        assert len(house.sink.messages) < LETTERS
        works.out(LETTERS, seconds=RECOVERY, after="the database was away")
        assert_sent_once(house, letters=LETTERS, kills=WORKERS)
        wait_until(lambda: all(one.alive for one in works.workers), seconds=1, what="the workers live")
