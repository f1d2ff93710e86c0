"""Writing the house's standard minutes. Orders keep the time they were planned with."""

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.rules import Complexity, EntryKind
from service_center.workshop.orders.models import StandardTime
from service_center.workshop.orders.rules.operations import Operation, Time


@transaction.atomic
def keep_time(kind: EntryKind, complexity: Complexity, operation: Operation, time: Time, *, by: Staff) -> bool:
    """Write down how long an operation takes in this house. False where it says so already."""
    before = StandardTime.objects.filter(
        kind=kind.value, complexity=complexity.value, operation=operation.value
    ).first()
    if before and (before.minutes, before.wait_hours) == (time.minutes, time.wait_hours):
        return False
    StandardTime.objects.update_or_create(
        kind=kind.value,
        complexity=complexity.value,
        operation=operation.value,
        defaults={"minutes": time.minutes, "wait_hours": time.wait_hours},
    )
    leave_trail(
        by=by,
        deed="standard_time",
        subject=f"time:{kind.value}/{complexity.value}/{operation.value}",
        before={"minutes": before.minutes, "wait_hours": before.wait_hours} if before else None,
        after={"minutes": time.minutes, "wait_hours": time.wait_hours},
    )
    return True
