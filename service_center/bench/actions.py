"""Keeping what was measured at a piece, with all that follows: due dates by evidence, and history facts of tests."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.models import Piece
from service_center.intervals.actions import recompute
from service_center.letters.actions import end_reminders
from service_center.measurements import actions as measurements
from service_center.measurements.models import TimingSheet
from service_center.measurements.rules import Reading
from service_center.pieces.tested import Tested, add_result

__all__ = ["Sitting", "Tested", "add_result", "correct_lift_angle", "record_sheet"]


@dataclass(frozen=True, slots=True)
class Sitting:
    """Readings, when they were taken, and how the machine was set."""

    readings: Sequence[Reading]
    taken_on: date
    instrument: str
    lift_angle_deg: Decimal | None
    temperature_c: Decimal | None
    whole_beat_error: bool
    remark: str


@transaction.atomic
def record_sheet(piece: Piece, sitting: Sitting, *, form_key: UUID, by: Staff, as_of: date) -> TimingSheet:
    """Keep a timing sheet; due dates follow what it shows. The same form twice is one sheet.

    Raises ImpossibleReadingsError; nothing is written then.
    """
    locked = Piece.objects.select_for_update().get(pk=piece.pk)
    sheet = measurements.record_sheet(
        locked,
        sitting.readings,
        taken_on=sitting.taken_on,
        by=by,
        instrument=sitting.instrument,
        lift_angle_deg=sitting.lift_angle_deg,
        temperature_c=sitting.temperature_c,
        whole_beat_error=sitting.whole_beat_error,
        remark=sitting.remark,
        form_key=form_key,
    )
    _follow(locked, because=f"readings of {sheet.taken_on.isoformat()} were kept", as_of=as_of)
    return sheet


@transaction.atomic
def correct_lift_angle(sheet: TimingSheet, *, right: Decimal, by: Staff, as_of: date) -> TimingSheet:
    """Write a sheet anew as the right lift angle gives it; the old one stays and no longer counts.

    Raises as `measurements.actions.correct_lift_angle` does; nothing is written then.
    """
    locked = Piece.objects.select_for_update().get(pk=sheet.piece_id)
    anew = measurements.correct_lift_angle(sheet, right=right, on=sheet.taken_on, by=by)
    _follow(locked, because=f"readings of {sheet.taken_on.isoformat()} were corrected", as_of=as_of)
    angles = {"from": str(sheet.lift_angle_deg), "to": str(right)}
    leave_trail(
        by=by,
        deed="correct_sheet",
        subject=f"piece:{locked.serial}",
        after={"sheet": anew.pk, "corrects": sheet.pk, "taken_on": anew.taken_on.isoformat(), "lift_angle": angles},
        reason=f"The lift angle was set to {sheet.lift_angle_deg} and should have been {right} degrees.",
    )
    return anew


def _follow(piece: Piece, *, because: str, as_of: date) -> None:
    recompute([piece.pk], as_of=as_of)
    end_reminders(piece, on=as_of, because=because)
