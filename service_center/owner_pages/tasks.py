"""Celery's way in. May run twice, late, beside itself, or never (reliability.md, B1)."""

from django.utils import timezone

from service_center.celery import app
from service_center.owner_pages.actions.erasing import put_away
from service_center.owner_pages.actions.notices import send_notices


@app.task(name="owner_pages.send_notices")
def send_waiting_notices() -> None:
    """Every half minute, and when somebody asked: hand over the mails about e-mail addresses."""
    send_notices(now=timezone.now())


@app.task(name="owner_pages.put_away")
def put_away_what_is_over() -> None:
    """Every hour: what was kept of erased owners for as long as the law asks, and no longer."""
    put_away(as_of=timezone.localdate())
