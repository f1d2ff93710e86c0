"""Keeping running times."""

from datetime import date
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from service_center.access.models import Staff
from service_center.book.models import Piece
from service_center.measurements.models import ReserveReading
from service_center.measurements.rules.reserve import Control, reserve_verdict


@transaction.atomic
def record_reserve(
    piece: Piece,
    control: Control,
    *,
    form_key: UUID,
    hours: Decimal,
    stopped_on: date,
    by: Staff | None,
    remark: str = "",
) -> ReserveReading:
    """Keep one running time from full wind to the stop. The same form twice is one. ValueError for impossible hours."""
    before = ReserveReading.objects.filter(form_key=form_key).first()
    if before:
        return before
    calibre = piece.model.calibre if piece.model else None
    nominal = calibre.power_reserve_h if calibre else None
    reserve_verdict(hours, nominal)
    return ReserveReading.objects.create(
        form_key=form_key,
        piece=piece,
        control=control.value,
        stopped_on=stopped_on,
        hours=hours,
        nominal_h=nominal,
        taken_by=by,
        remark=remark,
    )
