"""Registering a piece for the extension."""

from datetime import date

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.models import Owner, Piece
from service_center.guarantee.models import ExtensionEnrolment
from service_center.guarantee.rules import EnrolmentState, enrolment_on


class CannotEnrolError(ValueError):
    """The extension cannot be had on that day; nothing was written."""

    def __init__(self, state: EnrolmentState) -> None:
        self.state = state
        super().__init__(state.value)


class NotTheOwnerError(ValueError):
    """The piece belongs to somebody else meanwhile; nothing was written."""


@transaction.atomic
def enrol(
    piece: Piece, *, owner: Owner, on: date, language: str, conditions: str, by: Staff | None, reason: str
) -> bool:
    """Register a piece for the extension on a day, under the words the owner saw. False where it was registered.

    Raises CannotEnrolError after the base guarantee's last day or without a day of sale, and NotTheOwnerError.
    """
    locked = Piece.objects.select_for_update(no_key=True).get(pk=piece.pk)
    if locked.owner_id != owner.pk:
        raise NotTheOwnerError(locked.serial)
    found = enrolment_on(on, sold_on=locked.sold_on, enrolled_on=locked.extension_enrolled_on)
    if found.state is EnrolmentState.ENROLLED:
        return False
    if found.state is not EnrolmentState.OPEN or found.base_to is None or found.extended_to is None:
        raise CannotEnrolError(found.state)
    before = locked.extension_enrolled_on
    # A registration that the book lost since (an older file was read in) stands, with its day and words.
    kept, _new = ExtensionEnrolment.objects.get_or_create(
        piece=locked,
        defaults={
            "owner": owner,
            "enrolled_on": on,
            "base_to": found.base_to,
            "extended_to": found.extended_to,
            "language": language,
            "conditions": conditions,
            "recorded_by": by,
        },
    )
    locked.extension_enrolled_on = kept.enrolled_on
    locked.save(update_fields=["extension_enrolled_on"])
    leave_trail(
        by=by,
        deed="enrol_extension",
        subject=f"piece:{locked.serial}",
        before={"extension_enrolled_on": before.isoformat() if before else None},
        after={"extension_enrolled_on": kept.enrolled_on.isoformat(), "extended_to": found.extended_to.isoformat()},
        reason=reason,
    )
    return True
