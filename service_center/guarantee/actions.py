"""Registering a piece for the extension, what the house promises, and what staff decide."""

from collections.abc import Mapping
from datetime import date
from uuid import UUID

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.models import Owner, Piece
from service_center.guarantee.models import CoverDecision, ExtensionEnrolment, FindingCover, HouseTerms
from service_center.guarantee.queries import decision_of, house_table, terms_of
from service_center.guarantee.rules import (
    HOUSE_TABLE,
    EnrolmentState,
    Finding,
    Row,
    Terms,
    decide,
    enrolment_on,
)


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
    found = enrolment_on(on, sold_on=locked.sold_on, enrolled_on=locked.extension_enrolled_on, terms=terms_of(locked))
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


class NeedsAReasonError(ValueError):
    """A decision against the house's table, without a reason; nothing was written."""


@transaction.atomic
def keep_decision(
    piece: Piece,
    finding: Finding,
    *,
    reported_on: date,
    covered: bool | None,
    reason: str,
    order: str,
    country: str,
    form_key: UUID,
    by: Staff,
) -> CoverDecision:
    """Keep whether a finding is covered, on the day it was reported: as the table says (`covered` None), or otherwise.

    The same form twice is one decision. Raises NeedsAReasonError for a decision against the table without words.
    """
    before = CoverDecision.objects.filter(form_key=form_key).first()
    if before:
        return before
    decision = decision_of(piece, reported_on, country=country)
    said = decide(finding, decision, house_table())
    holds = said.covered if covered is None else covered
    if holds is not said.covered and not reason.strip():
        raise NeedsAReasonError(finding.value)
    kept = CoverDecision.objects.create(
        form_key=form_key,
        piece=piece,
        order=order,
        finding=finding.value,
        reported_on=reported_on,
        by_table=said.covered,
        covered=holds,
        covered_by=said.by.value,
        reason=reason.strip(),
        record=decision.record(),
        decided_by=by,
    )
    leave_trail(
        by=by,
        deed="decide_cover",
        subject=f"piece:{piece.serial}",
        before={"finding": finding.value, "by_table": said.covered},
        after={"finding": finding.value, "covered": holds, "order": order},
        reason=kept.reason,
    )
    return kept


@transaction.atomic
def set_terms(terms: Terms, *, from_on: date, by: Staff) -> HouseTerms:
    """Give other months to what is sold or done from a day on; what came before keeps what it was given."""
    kept = HouseTerms.objects.create(from_on=from_on, recorded_by=by, **_months(terms))
    leave_trail(
        by=by, deed="set_terms", subject="house:guarantee", after={"from_on": from_on.isoformat(), **_months(terms)}
    )
    return kept


def _months(terms: Terms) -> dict[str, int | None]:
    return {name: getattr(terms, name) for name in Terms.__dataclass_fields__}


@transaction.atomic
def set_table(table: Mapping[Finding, Row], *, by: Staff) -> None:
    """Keep the house's table of findings. Decisions that were kept stay as they are; the trail has both states."""
    before = house_table()
    for finding, row in table.items():
        if row == HOUSE_TABLE[finding]:
            FindingCover.objects.filter(finding=finding.value).delete()
        elif row != before[finding]:
            FindingCover.objects.update_or_create(finding=finding.value, defaults=_cells(row))
    changed = [finding for finding in table if table[finding] != before[finding]]
    if changed:
        leave_trail(
            by=by,
            deed="set_finding_table",
            subject="house:guarantee",
            before={one.value: _cells(before[one]) for one in changed},
            after={one.value: _cells(table[one]) for one in changed},
        )


def _cells(row: Row) -> dict[str, object]:
    return {"base": row.base, "extension": row.extension, "work": row.work, "reason": row.reason}
