"""The planned day of an invitation: levelling chooses it, letters keep it (design/workshop.md)."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from service_center.access.models import Staff
from service_center.letters.models import PlannedInvitation

ROWS_AT_ONCE = 2_000


@dataclass(frozen=True, slots=True)
class PlannedDay:
    """One overhaul interval of one piece (its id, and the interval's start), and the day to invite it on."""

    piece: int
    starts_on: date
    invite_on: date


def plan_invitations(days: Sequence[PlannedDay], *, at: datetime, by: Staff | None) -> int:
    """Write down the planned days of overhaul invitations; a later plan takes an earlier one's place. How many.

    In the caller's transaction, which holds the plan together. The rules never invite before the overhaul opens,
    whatever the plan says; a service done leaves its plan behind with the old interval.
    """
    PlannedInvitation.objects.bulk_create(
        [
            PlannedInvitation(
                piece_id=one.piece, starts_on=one.starts_on, invite_on=one.invite_on, planned_at=at, planned_by=by
            )
            for one in days
        ],
        batch_size=ROWS_AT_ONCE,
        update_conflicts=True,
        unique_fields=["piece", "starts_on"],
        update_fields=["invite_on", "planned_at", "planned_by"],
    )
    return len(days)
