"""Readings as they were taken. Facts only; verdicts are worked out from them."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from service_center.book.models import Piece
from service_center.measurements.rules import POSITIONS, WINDS


class TimingSheet(models.Model):
    """One sitting at the timing machine with one piece.

    A sheet that was written down wrongly is corrected by a later one (`voids`); one without readings says that the
    sitting was not of this piece. A sheet that was voided stays voided. `lift_angle_deg` is what the machine was set to.
    `whole_beat_error`: the machine showed the whole difference of the two beats, not half of it; the values are kept as
    read, and `queries` gives half. `form_key` makes a double tap one sheet.
    """

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="timing_sheets")
    taken_on = models.DateField()
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    recorded_at = models.DateTimeField(auto_now_add=True)
    instrument = models.CharField(max_length=100, blank=True)
    lift_angle_deg = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    temperature_c = models.DecimalField(max_digits=4, decimal_places=1, null=True)
    whole_beat_error = models.BooleanField(null=True)
    remark = models.TextField(blank=True)
    form_key = models.UUIDField(null=True)
    voids = models.ForeignKey("self", on_delete=models.PROTECT, null=True, db_index=False, related_name="corrections")

    class Meta:
        indexes = [models.Index(fields=["piece", "taken_on"], name="sheets_of_piece")]
        constraints = [
            models.UniqueConstraint(fields=["voids"], condition=Q(voids__isnull=False), name="a_sheet_is_voided_once"),
            models.UniqueConstraint(
                fields=["form_key"], condition=Q(form_key__isnull=False), name="a_form_is_one_sheet"
            ),
        ]


class Reading(models.Model):
    """Rate (s/d, plus gains), amplitude (degrees) and beat error (ms, as the sheet defines it)."""

    sheet = models.ForeignKey(TimingSheet, on_delete=models.PROTECT, related_name="readings")
    position = models.CharField(max_length=4, choices=[(position, position) for position in POSITIONS])
    wind = models.CharField(max_length=8, choices=[(wind, wind) for wind in WINDS])
    rate = models.DecimalField(max_digits=6, decimal_places=1, null=True)
    amplitude = models.DecimalField(max_digits=4, decimal_places=0, null=True)
    beat_error = models.DecimalField(max_digits=4, decimal_places=2, null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["sheet", "position", "wind"], name="a_position_once_a_wind")]
