"""Counting what owners answered ahead of whoever looks: a whole maker's year takes longer than a page may."""

import time
from collections import defaultdict
from datetime import date, datetime

from django.db import transaction

from service_center.letters.answered.models import AnswersCounted, AnswersOfDay
from service_center.letters.answered.queries import counts_by_day

DAYS_AT_ONCE = 500


def count_answers(*, now: datetime) -> AnswersCounted:
    """Count all answers by day, and keep that in the place of what was counted before.

    The counting before this one stays until the next: a page that began with it also ends with it.
    """
    began = time.monotonic()
    by_day: dict[date, list[list[str | int]]] = defaultdict(list)
    for one in counts_by_day():
        by_day[one.planned_on].append(
            [one.kind.value, one.step.value, one.choice.value if one.choice else "", one.number]
        )
    seconds = time.monotonic() - began
    with transaction.atomic():
        made = AnswersCounted.objects.create(made_at=now, seconds=seconds)
        days = (AnswersOfDay(counted=made, planned_on=day, counts=counts) for day, counts in by_day.items())
        AnswersOfDay.objects.bulk_create(days, batch_size=DAYS_AT_ONCE)
        before = AnswersCounted.objects.exclude(pk=made.pk).order_by("-pk").values_list("pk", flat=True)
        AnswersCounted.objects.filter(pk__in=list(before[1:])).delete()
    return made
