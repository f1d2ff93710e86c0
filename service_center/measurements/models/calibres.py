"""What the house asks of a calibre's sheets. Its own records, editable; every verdict reads them."""

from django.db import models
from django.db.models import F, Q

from service_center.book.models import Calibre
from service_center.measurements.rules.limits import HOUSE_LIMITS


class CalibreLimit(models.Model):
    """What one figure of a calibre's sheets should be, where it differs from the house's limits; both ends included."""

    calibre = models.ForeignKey(Calibre, on_delete=models.CASCADE, related_name="limits")
    figure = models.CharField(max_length=40, choices=[(figure, figure) for figure in HOUSE_LIMITS])
    low = models.DecimalField(max_digits=8, decimal_places=2, null=True)
    high = models.DecimalField(max_digits=8, decimal_places=2, null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["calibre", "figure"], name="one_limit_a_figure"),
            models.CheckConstraint(
                condition=Q(low__isnull=True) | Q(high__isnull=True) | Q(low__lte=F("high")), name="low_before_high"
            ),
        ]


class CalibreJudging(models.Model):
    """In which positions a calibre is judged, and where its crown sits.

    `positions` holds symbols of ISO 3158 with spaces between; sets differ, so they are data (design/facts.md, 1).
    """

    calibre = models.OneToOneField(Calibre, on_delete=models.CASCADE, related_name="judging")
    positions = models.CharField(max_length=40)
    crown_at = models.PositiveSmallIntegerField(default=3)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(crown_at__gte=1, crown_at__lte=12), name="crown_at_an_hour_of_the_dial")
        ]
