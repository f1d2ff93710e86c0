"""Keeping a timing sheet, and one that corrects another."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from uuid import UUID

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
    temperature_c: Decimal | None = None,
    whole_beat_error: bool = False,
    remark: str = "",
    form_key: UUID | None = None,
) -> models.TimingSheet:
    """Keep one sitting at the timing machine. Raises ImpossibleReadingsError, and then keeps nothing.

    `whole_beat_error`: the machine showed the whole difference of the two beats; half of it is the usual definition.
    A form sent twice (same `form_key`) is one sheet: the first is given back.
    """
    before = models.TimingSheet.objects.filter(form_key=form_key).first() if form_key else None
    if before:
        return before
    if not readings:
        raise ValueError("a timing sheet needs at least one reading")
    return keep(
        models.TimingSheet(
            piece=piece,
            taken_on=taken_on,
            taken_by=by,
            instrument=instrument,
            lift_angle_deg=lift_angle_deg,
            temperature_c=temperature_c,
            whole_beat_error=whole_beat_error,
            remark=remark,
            form_key=form_key,
        ),
        readings,
    )


class SheetCorrectedBeforeError(ValueError):
    """A sheet is voided once; whoever finds the later one wrong corrects that."""


@transaction.atomic
def correct_sheet(
    wrong: models.TimingSheet, readings: Sequence[Reading], *, taken_on: date, by: Staff | None, remark: str = ""
) -> models.TimingSheet:
    """Keep a later sheet that takes a wrong one's place, which from its day on no longer counts; both stay.

    No readings at all: the sitting was not of this piece, and nothing takes its place. Raises
    SheetCorrectedBeforeError and ImpossibleReadingsError, and then keeps nothing.
    """
    locked = models.TimingSheet.objects.select_for_update().get(pk=wrong.pk)
    if locked.corrections.exists():
        raise SheetCorrectedBeforeError(str(wrong.pk))
    return keep(
        models.TimingSheet(
            piece_id=wrong.piece_id,
            taken_on=taken_on,
            taken_by=by,
            instrument=wrong.instrument,
            lift_angle_deg=wrong.lift_angle_deg,
            temperature_c=wrong.temperature_c,
            whole_beat_error=wrong.whole_beat_error,
            remark=remark,
            voids=wrong,
        ),
        readings,
    )


def keep(sheet: models.TimingSheet, readings: Sequence[Reading]) -> models.TimingSheet:
    """Write a sheet and its readings, as read. Raises ImpossibleReadingsError, and then keeps nothing."""
    problems = impossible(readings)
    if problems:
        raise ImpossibleReadingsError(problems)
    sheet.save(force_insert=True)
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
