"""Counting what each part is needed for."""

from datetime import date, datetime

from service_center.planning.parts.models import PartOutlook
from service_center.planning.parts.queries import outlooks
from service_center.planning.queries.pictures import USUAL_WEEKS, latest_picture
from service_center.workshop.models import Part


def count_parts(*, as_of: date, now: datetime) -> int:
    """Count every part in use that is written down, anew; how many. Counting twice changes nothing.

    Counted before anything is written: on SQLite a transaction would keep every writer waiting as long as it takes.
    """
    usual = latest_picture(USUAL_WEEKS).picture
    found = outlooks(as_of, now, usual.curves if usual else ())
    PartOutlook.objects.bulk_create(
        found, update_conflicts=True, unique_fields=["part"], batch_size=500,
        update_fields=["as_of", "kinds", "shares", "ahead", "on_hand", "last_move"],
    )  # fmt: skip
    return len(found)


def count_parts_daily(*, as_of: date, now: datetime) -> int:
    """The same where a part in use has not been counted on this day yet."""
    if not Part.objects.filter(in_use=True).exclude(outlook__as_of__gte=as_of).exists():
        return 0
    return count_parts(as_of=as_of, now=now)
