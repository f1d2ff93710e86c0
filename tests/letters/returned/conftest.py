"""A letter on its way, of which something may come back."""

from collections.abc import Callable

import pytest

from service_center.book.models import Piece
from service_center.letters.models import Letter
from tests.letters.conftest import only_letter, round_on, send
from tests.letters.sink import MailSink


@pytest.fixture
def sent(due_piece: Callable[..., Piece], sink: MailSink) -> Letter:
    """A letter that its mail server took."""
    due_piece()
    round_on("2026-03-18")
    send()
    return only_letter()
