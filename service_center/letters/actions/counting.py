"""Counting the reminders of the weeks to come ahead of whoever looks: a whole maker's book takes longer than a page may."""

import time
from datetime import date, datetime, timedelta

from django.db import transaction

from service_center.letters.models import CountedAhead
from service_center.letters.queries.ahead import counts_ahead

DAYS = 14 * 7 + 6  # the thirteen weeks of the page, and a day on which it is kept, to the end of a week


def count_ahead(*, as_of: date, now: datetime) -> CountedAhead:
    """Count the reminders by day and keep that in the place of what was counted before."""
    last = as_of + timedelta(days=DAYS)
    began = time.monotonic()
    counts = counts_ahead(as_of, last)
    seconds = time.monotonic() - began
    by_day: dict[str, int] = {}
    for (day, _kind, _step), number in counts.items():
        by_day[day.isoformat()] = by_day.get(day.isoformat(), 0) + number
    with transaction.atomic():
        made = CountedAhead.objects.create(made_at=now, first=as_of, last=last, seconds=seconds, counts=by_day)
        CountedAhead.objects.filter(pk__lt=made.pk).delete()
    return made
