"""Web, worker and schedule in one go, and their end."""

import os
import signal
import socket
import time

import pytest

from tests.serving.processes import started

pytestmark = pytest.mark.servers
A_FEW_SECONDS = 8.0  # two for the worker to look up, one for gunicorn, and room for a busy machine


@pytest.fixture(params=["memory", "redis"])
def broker(request: pytest.FixtureRequest) -> str:
    """Both of the brokers that the site may have."""
    return "memory://" if request.param == "memory" else os.environ["TEST_REDIS_URL"]


def test_ctrl_c_ends_web_worker_and_schedule_within_seconds(tmp_path, broker: str) -> None:
    with started("serve", tmp_path, BROKER_URL=broker) as site:
        site.ready()
        assert site.others()
        assert site.press_ctrl_c() < A_FEW_SECONDS
        assert site.process.returncode == 0
        assert site.others() == []
        assert "Traceback" not in site.output


def test_a_supervisor_ends_it_as_well(tmp_path) -> None:
    with started("serve", tmp_path) as site:
        site.ready()
        assert site.terminate() < A_FEW_SECONDS
        assert site.process.returncode == 0
        assert site.others() == []


def test_it_says_where_it_listens_that_it_migrated_and_that_letters_wait(tmp_path) -> None:
    with started("serve", tmp_path) as site:
        site.ready()
        site.press_ctrl_c()
        assert site.url in site.output
        assert "Bringing the database up to date" in site.output
        assert "EMAIL_URL is not set" in site.output
    with started("serve", tmp_path) as again:
        again.ready()
        again.press_ctrl_c()
        assert "Bringing the database" not in again.output


def test_a_taken_port_is_named_and_nothing_is_started(tmp_path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with started("serve", tmp_path, port=port) as site:
            output = site.process.communicate(timeout=30)[0]
            assert site.process.returncode == 2
            assert f"127.0.0.1:{port}" in output
            assert "--port" in output
            assert "Traceback" not in output
    assert not (tmp_path / "book.sqlite3").exists() or (tmp_path / "book.sqlite3").stat().st_size == 0


def test_the_process_that_answers_may_die_and_another_takes_its_place(tmp_path) -> None:
    with started("serve", tmp_path) as site:
        site.ready()
        (first,) = site.others()
        os.kill(first, signal.SIGKILL)
        until = time.monotonic() + 20
        while (not site.others() or site.others() == [first]) and time.monotonic() < until:
            time.sleep(0.1)
        site.ready()
        assert site.others() != [first]
        assert site.press_ctrl_c() < A_FEW_SECONDS
