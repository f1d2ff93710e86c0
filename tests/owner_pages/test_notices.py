"""The mails about another e-mail address go once, whoever hands them over and whoever dies over it."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import Any

import pytest
import time_machine
from django.db import connections
from django.utils import timezone

from service_center.celery import app
from service_center.keeping.actions import Journals, replay_journals
from service_center.letters.actions import go_on
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


def test_after_a_restore_they_wait_until_the_desk_lets_letters_go_on(sent: Sent, sink: MailSink) -> None:
    # The one that waited when the backup was made may have gone out since.
    notices(sent, 1)
    bring_back = partial(replay_journals, Journals(), now=timezone.now(), complain=print)
    bring_back()
    assert send_notices(now=timezone.now()) == 0
    assert list(Notice.objects.values_list("state", "reply")) == [("held", "after a restore")]
    go_on(by=None, now=timezone.now())
    assert send_notices(now=timezone.now()) == 1
    bring_back()
    assert send_notices(now=timezone.now()) == 0
    assert len(sink.messages) == 1


def test_one_that_a_backup_had_at_the_dot_is_in_doubt(sent: Sent, sink: MailSink) -> None:
    notices(sent, 1)
    Notice.objects.update(state="at_the_dot", attempt=1, lease_until=timezone.now() + timedelta(hours=1))
    replay_journals(Journals(), now=timezone.now(), complain=print)
    go_on(by=None, now=timezone.now())
    send_notices(now=timezone.now())
    assert Notice.objects.get().state == "in_doubt"
    assert sink.messages == []


def test_one_asked_for_since_the_restore_goes_at_once(sent: Sent, sink: MailSink) -> None:
    replay_journals(Journals(), now=timezone.now(), complain=print)
    notices(sent, 1)
    assert send_notices(now=timezone.now()) == 1


def test_without_a_mail_server_they_wait(sent: Sent, settings: Any) -> None:
    settings.MAIL_CONFIGURED = False
    notices(sent, 1)
    assert send_notices(now=timezone.now()) == 0
    assert Notice.objects.get().state == "waiting"


def test_the_timetable_rings_for_them() -> None:

    assert app.conf.beat_schedule["notices"]["task"] == send_waiting_notices.name
