"""What the worker counts of each part once a day, because it takes longer than a page may."""

from django.db import models

from service_center.workshop.parts.models import Part


class PartOutlook(models.Model):
    """How many of a part closed overhauls used, the share of each skill's overhauls to come that it fits, and its stock.

    A conclusion, counted anew each day. `orders`: closed overhauls of the calibre or model it fits; `shares` by skill;
    `on_hand` and `waiting` (orders in the house that may use it yet) with the moves up to the id `last_move`: a page
    adds the moves since, and is right without adding up the moves of years.
    """

    part = models.OneToOneField(Part, on_delete=models.CASCADE, related_name="outlook")
    as_of = models.DateField()
    used = models.PositiveIntegerField()
    orders = models.PositiveIntegerField()
    shares = models.JSONField()
    on_hand = models.IntegerField()
    waiting = models.PositiveIntegerField()
    last_move = models.BigIntegerField()
