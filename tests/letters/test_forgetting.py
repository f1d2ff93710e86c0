"""Returned mail is kept word for word for a time; what it said of letters stays."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import Error

from service_center.celery import app
from service_center.letters.actions import forget_returned
from service_center.letters.models import DeliveryReport, Letter, ProviderCall, ReturnedMail
from service_center.letters.tasks import forget
from tests.factories import OwnerFactory

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


@pytest.mark.django_db
def test_after_its_days_the_raw_text_goes_and_the_conclusion_stays(settings: Any) -> None:
    settings.RETURNED_MAIL_DAYS = 30
    old, young = NOW - timedelta(days=30, seconds=1), NOW - timedelta(days=30)
    letter = Letter.objects.create(
        owner=OwnerFactory(), language="en", planned_on=old.date(), not_before=old, state="sent"
    )
    mail = ReturnedMail.objects.create(key="a", came_at=old, found="report", raw=b"To: ada@owners.example")
    DeliveryReport.objects.create(
        letter=letter, email="ada@owners.example", source="mail", happened="failed", happened_at=old, status="5.1.1",
        words="unknown", fault="address", mail=mail, recorded_at=old,
    )  # fmt: skip
    ReturnedMail.objects.create(key="b", came_at=young, found="auto_reply", raw=b"Away.")
    for key, came, read in (("a", old, old), ("b", old, None), ("c", young, young)):
        ProviderCall.objects.create(
            provider="mailgun", key=key, came_at=came, content_type="application/json", body=b"{}", read_at=read
        )
    assert forget_returned(now=NOW) == 2
    assert forget_returned(now=NOW) == 0
    raw = {one.key: bytes(one.raw) for one in ReturnedMail.objects.all()}
    assert raw == {"a": b"", "b": b"Away."}
    assert {one.key for one in ProviderCall.objects.all() if not bytes(one.body)} == {"a"}
    report = DeliveryReport.objects.get()
    assert (report.mail, report.status, report.words) == (mail, "5.1.1", "unknown")
    with pytest.raises(Error, match="facts"):
        ReturnedMail.objects.update(raw=b"")


def test_the_timetable_asks_for_it_every_hour() -> None:
    assert app.conf.beat_schedule["forget"]["task"] == forget.name
    assert app.conf.beat_schedule["forget"]["schedule"] == 3600
