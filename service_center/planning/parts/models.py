"""What the worker counts of each part once a day, because it takes longer than a page may."""

from django.db import models

from service_center.workshop.parts.models import Part


class PartOutlook(models.Model):
    """How many of a part closed overhauls used, and the share of each skill's overhauls to come that it fits.

    A conclusion, counted anew each day. `orders`: closed overhauls of the calibre or model it fits; `shares` by skill.
    """

    part = models.OneToOneField(Part, on_delete=models.CASCADE, related_name="outlook")
    as_of = models.DateField()
    used = models.PositiveIntegerField()
    orders = models.PositiveIntegerField()
    shares = models.JSONField()
