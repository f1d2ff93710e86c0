"""What is written down, and what is not."""

import io
import logging

import pytest
from django.test import Client

TOKEN = "Zq3-9vT_0kJ8uYh2LxWc4bNf6aMd1oPe7sRg5iKtVwU"


@pytest.fixture
def written() -> io.StringIO:
    """What the site's own handler writes meanwhile."""
    (handler,) = [one for one in logging.getLogger().handlers if one.name == "stderr"]
    assert isinstance(handler, logging.StreamHandler)
    lines = io.StringIO()
    before = handler.setStream(lines)
    yield lines
    handler.setStream(before)


@pytest.mark.django_db
@pytest.mark.parametrize(
    "address", [f"/o/{TOKEN}/", f"/o/stop/{TOKEN}/", f"/o/address/{TOKEN}/", f"/o/{TOKEN}/nowhere"]
)
def test_a_refused_owners_link_is_written_down_without_its_secret(client: Client, written, address: str) -> None:
    assert client.get(address).status_code in {404, 410}
    assert "/o/" in written.getvalue()
    assert TOKEN not in written.getvalue()


def test_an_error_is_written_down_with_its_cause(written) -> None:
    try:
        _ = 1 / 0
    except ZeroDivisionError:
        logging.getLogger("service_center.letters").exception("A letter about %s failed", "FH21-000001")
    assert "A letter about FH21-000001 failed" in written.getvalue()
    assert "ZeroDivisionError: division by zero" in written.getvalue()
