"""A watchmaker, and letters about an order as their owner gets them."""

import re
from collections.abc import Callable
from typing import Any

import pytest

from service_center.access.models import Staff
from tests.factories import StaffFactory
from tests.letters.sink import MailSink
from tests.owner_pages.orders.asking import Told, send


@pytest.fixture
def staff(db: None) -> Staff:
    member: Staff = StaffFactory(role="watchmaker")
    return member


@pytest.fixture
def told(sink: MailSink, settings: Any) -> Callable[[], Told]:
    def arrived() -> Told:
        send()
        mail = sink.messages[-1]
        found = re.search(rf"{re.escape(settings.SITE_URL)}(/o/[^/\s]+/)", mail.text)
        assert found
        return Told(mail, found[1])

    return arrived
