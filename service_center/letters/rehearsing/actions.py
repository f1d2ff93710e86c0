"""Asking the worker to rehearse a round, and doing it."""

import logging
from datetime import date, datetime

from django.db import IntegrityError, transaction

from service_center.access.models import Staff
from service_center.letters.asked_for import claim
from service_center.letters.doorbell import ring_after_commit
from service_center.letters.rehearsing.models import Rehearsal
from service_center.letters.rehearsing.queries import rehearse

logger = logging.getLogger(__name__)

REHEARSE = "letters.rehearse"
KEPT = 12


def ask_to_rehearse(*, day: date, at: datetime, by: Staff | None) -> Rehearsal:
    """Ask what the round of a day would do. One of that day that is under way is not asked for twice."""
    under_way = Rehearsal.objects.filter(day=day, finished_at=None)
    try:
        with transaction.atomic():
            asked = under_way.first()
            if asked is None:
                asked = Rehearsal.objects.create(day=day, asked_at=at, asked_by=by)
                ring_after_commit(REHEARSE)
    except IntegrityError:  # somebody asked at the same moment
        return under_way.get()
    return asked


def rehearse_next(*, now: datetime) -> bool:
    """Rehearse the round that was asked for first, if one was. Whether there was one; rings for those behind it."""
    one = claim(Rehearsal.objects.all(), now)
    if one is None:
        return False
    try:
        found, why = rehearse(one.day).as_json(), ""
    except Exception as error:  # whatever it was: the page says so, and the next one is worked out
        logger.exception("rehearsal %s", one.pk)
        found, why = None, type(error).__name__
    # Unless whoever took over from us was faster: of both the first counts.
    Rehearsal.objects.filter(pk=one.pk, finished_at=None).update(finished_at=now, found=found, why=why)
    _drop_old()
    if Rehearsal.objects.filter(finished_at=None, begun_at=None).exists():
        ring_after_commit(REHEARSE)
    return True


def _drop_old() -> None:
    finished = Rehearsal.objects.exclude(finished_at=None).order_by("-pk")
    Rehearsal.objects.filter(pk__in=list(finished.values_list("pk", flat=True)[KEPT:])).delete()
