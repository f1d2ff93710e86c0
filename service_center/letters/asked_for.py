"""What a page asks for and the worker works out: the row is the memory, the broker only rings.

Any worker may take a row, die with it, or run beside another: a row is taken by one, and free again once its worker
must be dead. Conclusions only: what is asked for here can be asked for again.
"""

from datetime import datetime, timedelta
from typing import TypeVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q, QuerySet

# Longer than the worker's own limit for a task: whoever has not finished by then is dead.
MAY_TAKE = timedelta(minutes=11)
TRIES = 3


class AskedFor(models.Model):
    """When something was asked for and by whom, who is at it since when, and when it ended.

    `tries`: one that kills its worker is not begun for ever. `why`: why it came to nothing, where it did.
    """

    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    begun_at = models.DateTimeField(null=True)
    tries = models.PositiveSmallIntegerField(default=0)
    finished_at = models.DateTimeField(null=True)
    why = models.CharField(max_length=300, blank=True)

    class Meta:
        abstract = True


Row = TypeVar("Row", bound=AskedFor)


def claim(rows: QuerySet[Row], now: datetime, **given_up: str) -> Row | None:
    """Take the oldest row that nobody is at; None where there is none. Three statements, two where there is none.

    One that ended its worker three times is given up: finished, with these columns and the reason.
    """
    rows.filter(finished_at=None, tries__gte=TRIES, begun_at__lte=now - MAY_TAKE).update(
        finished_at=now, why="the worker ended three times", **given_up
    )
    free = Q(begun_at=None) | Q(begun_at__lte=now - MAY_TAKE)
    waiting = rows.filter(free, finished_at=None).order_by("pk")
    for pk in waiting.values_list("pk", flat=True)[:10]:
        if waiting.filter(pk=pk).update(begun_at=now, tries=F("tries") + 1):
            return rows.select_related("asked_by").get(pk=pk)
    return None
