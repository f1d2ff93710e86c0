"""What the worker counts of each part once a day, because it takes longer than a page may."""

from django.db import models

from service_center.workshop.parts.models import Part


class PartOutlook(models.Model):
    """How often orders of each kind used a part, which orders to come it fits, and its stock.

    A conclusion, counted anew each day. `kinds`: by kind of order {"used", "orders", "waiting"}: how many closed orders
    of the calibre or model it fits used, of how many, and how many orders in the house may use it yet. `shares`: of each
    skill's overhauls to come; `ahead`: orders of the other kinds by week, from the week of `as_of` on. `on_hand` and
    `waiting` with the moves up to the id `last_move`: a page adds the moves since, and is right without adding up the
    moves of years.
    """

    part = models.OneToOneField(Part, on_delete=models.CASCADE, related_name="outlook")
    as_of = models.DateField()
    kinds = models.JSONField()
    shares = models.JSONField()
    ahead = models.JSONField()
    on_hand = models.IntegerField()
    last_move = models.BigIntegerField()
