"""Reading timing sheets and their readings."""

from collections import defaultdict
from datetime import date

from service_center.book.models import Piece
from service_center.measurements import models
from service_center.measurements.rules import POSITIONS, WINDS, Reading, Wind


def sheets_of(piece: Piece, *, as_of: date | None = None) -> list[tuple[models.TimingSheet, list[Reading]]]:
    """A piece's timing sheets, latest first, each with its readings; those taken up to a day. Two statements."""
    sheets = models.TimingSheet.objects.filter(piece=piece).select_related("taken_by").order_by("-taken_on", "-id")
    if as_of is not None:
        sheets = sheets.filter(taken_on__lte=as_of)
    found = list(sheets)
    readings = _readings([sheet.pk for sheet in found])
    return [(sheet, readings[sheet.pk]) for sheet in found]


def readings_of(sheet: models.TimingSheet) -> list[Reading]:
    """One sheet's readings: by wind state, then in the order of ISO 3158; beat error is half. One statement."""
    return _readings([sheet.pk])[sheet.pk]


def readings_as_read(sheet: models.TimingSheet) -> list[Reading]:
    """The same with the beat error as the sheet defines it. One statement."""
    return _readings([sheet.pk], as_read=True)[sheet.pk]


def _readings(sheet_ids: list[int], *, as_read: bool = False) -> dict[int, list[Reading]]:
    """With half the difference of the two beats, whatever the machine showed, unless asked `as_read`."""
    found: dict[int, list[Reading]] = defaultdict(list)
    rows = models.Reading.objects.filter(sheet_id__in=sheet_ids).values_list(
        "sheet_id", "sheet__whole_beat_error", "position", "wind", "rate", "amplitude", "beat_error"
    )
    for sheet_id, whole, position, wind, rate, amplitude, beat_error in sorted(
        rows, key=lambda row: (WINDS.index(row[3]), POSITIONS.index(row[2]))
    ):
        half = beat_error / 2 if whole and beat_error is not None and not as_read else beat_error
        found[sheet_id].append(Reading(position, Wind(wind), rate, amplitude, half))
    return found
