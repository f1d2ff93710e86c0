"""Reading what was measured."""

from collections import defaultdict
from collections.abc import Mapping
from datetime import date

from service_center.book.models import Calibre, Piece
from service_center.measurements import models
from service_center.measurements.rules import POSITIONS, WINDS, Reading, Wind
from service_center.measurements.rules.limits import HOUSE_LIMITS, Range


def sheets_of(piece: Piece, *, as_of: date | None = None) -> list[tuple[models.TimingSheet, list[Reading]]]:
    """A piece's timing sheets, latest first, each with its readings; those taken up to a day. Two statements."""
    sheets = models.TimingSheet.objects.filter(piece=piece).select_related("taken_by").order_by("-taken_on", "-id")
    if as_of is not None:
        sheets = sheets.filter(taken_on__lte=as_of)
    found = list(sheets)
    readings = _readings([sheet.pk for sheet in found])
    return [(sheet, readings[sheet.pk]) for sheet in found]


def readings_of(sheet: models.TimingSheet) -> list[Reading]:
    """One sheet's readings: by wind state, then in the order of ISO 3158. One statement."""
    return _readings([sheet.pk])[sheet.pk]


def _readings(sheet_ids: list[int]) -> dict[int, list[Reading]]:
    found: dict[int, list[Reading]] = defaultdict(list)
    rows = models.Reading.objects.filter(sheet_id__in=sheet_ids)
    for row in sorted(rows, key=lambda row: (WINDS.index(row.wind), POSITIONS.index(row.position))):
        reading = Reading(row.position, Wind(row.wind), row.rate, row.amplitude, row.beat_error)
        found[row.sheet_id].append(reading)
    return found


def limits_of(calibre: Calibre) -> Mapping[str, Range]:
    """By what a calibre's sheets are judged: the house's limits, and its own where it has any. One statement."""
    own = models.CalibreLimit.objects.filter(calibre=calibre)
    return {**HOUSE_LIMITS, **{row.figure: Range(row.low, row.high) for row in own}}
