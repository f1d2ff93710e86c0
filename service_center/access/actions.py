"""Writing the trail, and making staff accounts."""

from typing import Any

from django.db import transaction

from service_center.access.models import Staff, Trail
from service_center.access.rules import Role


def leave_trail(
    *, by: Staff | None, deed: str, subject: str, before: Any = None, after: Any = None, reason: str = ""
) -> Trail:
    """Add one row to the trail, inside the caller's transaction. `subject` is "kind:key", such as "piece:FH-21-00042"."""
    return Trail.objects.create(
        by=by,
        boutique=by.boutique if by else "",
        deed=deed,
        subject=subject,
        before=before,
        after=after,
        reason=reason,
    )


@transaction.atomic
def make_staff(
    *, username: str, password: str, role: Role, boutique: str = "", name: str = "", email: str = ""
) -> Staff:
    """Make one account. `email`: where a test letter goes. Raises IntegrityError for a taken name, or boutique staff without a boutique."""
    staff = Staff(username=username, role=role.value, boutique=boutique, first_name=name, email=email)
    staff.set_password(password)
    staff.save()
    leave_trail(
        by=None, deed="make_staff", subject=f"staff:{username}", after={"role": role.value, "boutique": boutique}
    )
    return staff


@transaction.atomic
def keep_address(staff: Staff, email: str, *, by: Staff | None = None) -> None:
    """Keep the e-mail address of a member of staff, to which a letter goes that they try on themselves.

    Empty: none any more. `by` is they themselves, or nobody where a command did it.
    """
    before, staff.email = staff.email, email
    staff.save(update_fields=["email"])
    leave_trail(
        by=by,
        deed="staff_address",
        subject=f"staff:{staff.username}",
        before={"address": bool(before)},
        after={"address": bool(email)},
    )
