"""The day, and somebody at the desk."""

from collections.abc import Iterator

import pytest
import time_machine

from service_center.access.models import Staff
from tests.factories import StaffFactory
from tests.planning.parts.shelf import AT


@pytest.fixture
def today() -> Iterator[None]:
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def by() -> Staff:
    return StaffFactory(role="desk")
