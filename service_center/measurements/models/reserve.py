"""Running time from full wind to stop. Facts only."""

from django.conf import settings
from django.db import models

from service_center.book.models import Piece
from service_center.measurements.rules.reserve import Control


class ReserveReading(models.Model):
    """How long a piece ran from full wind, in hours, at one of its three controls; `nominal_h` as it was then."""

    form_key = models.UUIDField(unique=True)
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="reserves")
    control = models.CharField(max_length=16, choices=[(one.value, one.value) for one in Control])
    stopped_on = models.DateField()
    hours = models.DecimalField(max_digits=7, decimal_places=2)
    nominal_h = models.DecimalField(max_digits=7, decimal_places=2, null=True)
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    recorded_at = models.DateTimeField(auto_now_add=True)
    remark = models.TextField(blank=True)

    class Meta:
        indexes = [models.Index(fields=["piece", "stopped_on"], name="reserves_of_piece")]
