"""How old the last backup is that is known to be whole."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings

from service_center.keeping.models import VerifiedBackup


@dataclass(frozen=True, slots=True)
class LastBackup:
    """The newest backup that was verified, None where there is none; `overdue`: older than the house allows."""

    made_at: datetime | None
    verified_at: datetime | None
    overdue: bool


def last_backup(now: datetime) -> LastBackup:
    """One statement, by index."""
    found = VerifiedBackup.objects.order_by("-made_at").first()
    if found is None:
        return LastBackup(None, None, overdue=True)
    return LastBackup(
        found.made_at,
        found.verified_at,
        overdue=found.made_at < now - timedelta(days=settings.BACKUP_VERIFIED_DAYS),
    )
