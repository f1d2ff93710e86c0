"""The bell: whoever rings it goes on, whatever the broker does."""

import os
import socket
import subprocess
import sys
from collections.abc import Iterator

import pytest

from tests.letters.sink import nobody_listens

RING = """
import time, django
django.setup()
from service_center.letters.doorbell import ring
began = time.monotonic()
ring()
print(time.monotonic() - began)
"""


@pytest.fixture
def silent_port() -> Iterator[int]:
    with socket.create_server(("127.0.0.1", 0)) as listening:
        yield listening.getsockname()[1]


def seconds_of_a_ring(broker_url: str) -> float:
    environment = {**os.environ, "BROKER_URL": broker_url, "DJANGO_SETTINGS_MODULE": "service_center.settings"}
    done = subprocess.run(
        [sys.executable, "-c", RING], env=environment, check=True, capture_output=True, text=True, timeout=60
    )
    return float(done.stdout.splitlines()[-1])


@pytest.mark.servers
def test_a_broker_that_is_away_keeps_nobody_waiting() -> None:
    with nobody_listens() as port:
        assert seconds_of_a_ring(f"redis://127.0.0.1:{port}/0") < 2


@pytest.mark.servers
def test_a_broker_that_takes_the_line_and_never_answers_keeps_nobody_waiting(silent_port: int) -> None:
    assert seconds_of_a_ring(f"redis://127.0.0.1:{silent_port}/0") < 2
