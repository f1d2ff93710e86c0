"""The mails about another e-mail address go once, whoever hands them over and whoever dies over it."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.db import connections
from django.utils import timezone

from service_center.celery import app
from service_center.owner_pages.actions import send_notices
from service_center.owner_pages.models import EmailChange, Notice
from service_center.owner_pages.tasks import send_waiting_notices
from tests.letters.sink import MailSink
from tests.owner_pages.conftest import Sent

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def today() -> Iterator[None]:
    """The database's own clock says when a notice is ready: time is as it is."""
    with time_machine.travel(timezone.now(), tick=True):
        yield


def notices(sent: Sent, count: int) -> None:
    """So many changes, confirmed long ago, of which the address before is still to be told."""
    began = datetime(2026, 1, 1, tzinfo=UTC)
    for number in range(count):
        change = EmailChange.objects.create(
            owner=sent.letter.owner,
            letter=sent.letter,
            before=f"before{number}@owners.example",
            email=f"after{number}@owners.example",
            asked_at=began,
            expires_at=began + timedelta(days=7),
            confirmed_at=began,
        )
        Notice.objects.create(change=change, kind="tell_before", not_before=began)


def test_senders_at_one_time_hand_each_over_once(sent: Sent, sink: MailSink) -> None:
    notices(sent, 12)

    def send() -> int:
        try:
            return send_notices(now=timezone.now())
        finally:
            connections.close_all()

    with ThreadPoolExecutor(4) as senders:
        handed = sum(one.result() for one in [senders.submit(send) for _ in range(4)])
    assert handed == 12
    assert len({one.recipients for one in sink.messages}) == len(sink.messages) == 12
    assert len({one.message_id for one in sink.messages}) == 12
    assert set(Notice.objects.values_list("state", flat=True)) == {"sent"}


@pytest.mark.parametrize(("left_at", "becomes", "mails"), [("handing_over", "sent", 1), ("at_the_dot", "in_doubt", 0)])
def test_what_a_sender_leaves_behind_is_tried_again_only_where_no_server_may_have_it(
    sent: Sent, sink: MailSink, left_at: str, becomes: str, mails: int
) -> None:
    notices(sent, 1)
    Notice.objects.update(state=left_at, attempt=1, lease_until=timezone.now() - timedelta(seconds=1))
    send_notices(now=timezone.now())
    assert Notice.objects.get().state == becomes
    assert len(sink.messages) == mails


def test_without_a_mail_server_they_wait(sent: Sent, settings: Any) -> None:
    settings.MAIL_CONFIGURED = False
    notices(sent, 1)
    assert send_notices(now=timezone.now()) == 0
    assert Notice.objects.get().state == "waiting"


def test_the_timetable_rings_for_them() -> None:

    assert app.conf.beat_schedule["notices"]["task"] == send_waiting_notices.name
