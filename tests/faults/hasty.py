"""The product's worker and clock with little patience, for `celery -A tests.faults.hasty`: the same code, sooner."""

import django

from service_center.celery import app

django.setup()

from service_center.letters.actions import settling  # noqa: E402  # after Django is set up

TICK_SECONDS = 2.0

app.conf.beat_schedule["tick"] |= {"schedule": TICK_SECONDS, "options": {"expires": TICK_SECONDS}}
settling.DOT_MARGIN_SECONDS = 1
