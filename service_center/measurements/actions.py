"""Keeping what was measured."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from django.db import transaction

from service_center.access.models import Staff
from service_center.book.models import Piece
from service_center.measurements import models
from service_center.measurements.rules import Problem, Reading, impossible


class ImpossibleReadingsError(ValueError):
    """The sheet is refused; `problems` says which field of which reading, and why."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = problems
        super().__init__("; ".join(f"{one.position} {one.wind} {one.field}: {one.reason}" for one in problems))


@transaction.atomic
def record_sheet(
    piece: Piece,
    readings: Sequence[Reading],
    *,
    taken_on: date,
    by: Staff | None,
    instrument: str = "",
    lift_angle_deg: Decimal | None = None,
    remark: str = "",
) -> models.TimingSheet:
    """Keep one sitting at the timing machine. Raises ImpossibleReadingsError, and then keeps nothing."""
    problems = impossible(readings)
    if problems:
        raise ImpossibleReadingsError(problems)
    if not readings:
        raise ValueError("a timing sheet needs at least one reading")
    sheet = models.TimingSheet.objects.create(
        piece=piece,
        taken_on=taken_on,
        taken_by=by,
        instrument=instrument,
        lift_angle_deg=lift_angle_deg,
        remark=remark,
    )
    models.Reading.objects.bulk_create(
        models.Reading(
            sheet=sheet,
            position=reading.position,
            wind=reading.wind.value,
            rate=reading.rate,
            amplitude=reading.amplitude,
            beat_error=reading.beat_error,
        )
        for reading in readings
    )
    return sheet
