"""Houses on both databases, and a seed that every run prints."""

import contextlib
import os
import random
import tempfile
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path

import pytest

from tests.faults.houses import POSTGRESQL, SQLITE, House, Patterns
from tests.servers import postgresql


@pytest.fixture(scope="session")
def patterns(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Patterns]:
    """Databases to copy. On the suite's PostgreSQL where it has one, on one of our own otherwise."""
    folder = tmp_path_factory.mktemp("faults")
    with contextlib.ExitStack() as stack:
        url = os.environ.get("DATABASE_URL", "")
        if not url.startswith("postgres"):
            # Not within pytest's folder: PostgreSQL's own user could not enter it.
            server = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="service-center-faults-")))
            url = stack.enter_context(postgresql(server / "postgresql"))
        patterns = Patterns(folder, url)
        stack.callback(patterns.close)
        yield patterns


@pytest.fixture(params=[SQLITE, POSTGRESQL])
def vendor(request: pytest.FixtureRequest) -> str:
    """Both databases."""
    return str(request.param)


@pytest.fixture
def open_house(patterns: Patterns, vendor: str) -> Iterator[Callable[..., House]]:
    """Makes houses that end with the test."""
    with contextlib.ExitStack() as stack:

        def make(**about: object) -> House:
            return stack.enter_context(_house(patterns, vendor, about))

        yield make


def _house(patterns: Patterns, vendor: str, about: dict[str, object]) -> AbstractContextManager[House]:
    return patterns.house(vendor, **about)  # type: ignore[arg-type]


@pytest.fixture
def chance() -> random.Random:
    """Chance with a seed, printed for whoever has to run a failure again: SEED=... pytest ..."""
    seed = int(os.environ.get("SEED", "0")) or random.SystemRandom().randrange(1, 1_000_000)
    print(f"SEED={seed}")
    return random.Random(seed)
