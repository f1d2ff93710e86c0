"""A sheet that was read with the machine set to a wrong lift angle, written anew with the right one."""

from dataclasses import replace
from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal

from django.db import transaction

from service_center.access.models import Staff
from service_center.measurements import models
from service_center.measurements.actions.sheets import ImpossibleReadingsError, SheetCorrectedBeforeError, keep
from service_center.measurements.queries import readings_as_read
from service_center.measurements.rules import impossible
from service_center.measurements.rules.arithmetic import amplitude_with_lift


class NoLiftAngleError(ValueError):
    """The sheet does not say what lift angle the machine was set to."""


@transaction.atomic
def correct_lift_angle(
    wrong: models.TimingSheet, *, right: Decimal, on: date, by: Staff | None, remark: str = ""
) -> models.TimingSheet:
    """Keep a new sheet with every amplitude as the right lift angle gives it; the old one stays and no longer counts.

    Amplitude is proportional to the lift angle; rates and beat errors do not depend on it (design/measurement.md). Kept
    in whole degrees. Raises NoLiftAngleError, SheetCorrectedBeforeError, and ImpossibleReadingsError where an
    amplitude would pass 360 degrees; nothing is kept then. `on` is the day of the old sheet: it was read then.
    """
    locked = models.TimingSheet.objects.select_for_update().get(pk=wrong.pk)
    if locked.lift_angle_deg is None:
        raise NoLiftAngleError(str(wrong.pk))
    if locked.corrections.exists():
        raise SheetCorrectedBeforeError(str(wrong.pk))
    set_to = float(locked.lift_angle_deg)
    readings = [
        replace(one, amplitude=_corrected(one.amplitude, set_to=set_to, right=float(right)))
        for one in readings_as_read(locked)
    ]
    problems = impossible(readings)
    if problems:
        raise ImpossibleReadingsError(problems)
    sheet = models.TimingSheet(
        piece_id=locked.piece_id,
        taken_on=on,
        taken_by=by,
        instrument=locked.instrument,
        lift_angle_deg=right,
        temperature_c=locked.temperature_c,
        whole_beat_error=locked.whole_beat_error,
        remark=remark,
        voids=locked,
    )
    return keep(sheet, readings)


def _corrected(amplitude: Decimal | None, *, set_to: float, right: float) -> Decimal | None:
    if amplitude is None:
        return None
    value = Decimal(amplitude_with_lift(float(amplitude), set_to=set_to, right=right))
    return value.quantize(Decimal(1), rounding=ROUND_HALF_EVEN)
