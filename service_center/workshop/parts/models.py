"""Parts and how their stock moved. Stock is the sum of the moves; moves are facts."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from service_center.book.models import Calibre, WatchModel
from service_center.workshop.orders.models import WorkOrder
from service_center.workshop.parts.rules import PartSort, StockReason


class Part(models.Model):
    """One part by its number. It fits a calibre, a model, or (neither) whatever it is taken for.

    `pack`: how many are ordered at once; `delivery_days`: from order to shelf, as the supplier keeps it.
    """

    number = models.CharField(max_length=32, unique=True)
    name = models.CharField(max_length=200)
    sort = models.CharField(max_length=16, choices=[(one.value, one.value) for one in PartSort])
    calibre = models.ForeignKey(Calibre, on_delete=models.PROTECT, null=True, related_name="parts")
    model = models.ForeignKey(WatchModel, on_delete=models.PROTECT, null=True, related_name="parts")
    pack = models.PositiveSmallIntegerField(default=1)
    delivery_days = models.PositiveSmallIntegerField(default=14)
    in_use = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pack__gt=0), name="a_pack_holds_something"),
            models.CheckConstraint(condition=Q(calibre=None) | Q(model=None), name="a_part_fits_a_calibre_or_a_model"),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"


class StockMove(models.Model):
    """So many of a part more (or, below zero, fewer) on the shelf. What an order used names it.

    The same form twice is one move.
    """

    form_key = models.UUIDField(unique=True)
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="moves")
    quantity = models.IntegerField()
    reason = models.CharField(max_length=16, choices=[(one.value, one.value) for one in StockReason])
    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, null=True, related_name="parts")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [
            # With the quantity, so that what lies on the shelf is summed off the index.
            models.Index(fields=["part", "id", "quantity"], name="moves_of_part"),
            models.Index(fields=["order"], name="parts_of_order", condition=Q(order__isnull=False)),
        ]
        constraints = [
            models.CheckConstraint(condition=~Q(quantity=0), name="a_move_moves_something"),
            models.CheckConstraint(
                condition=Q(order__isnull=True) ^ Q(reason=StockReason.USED.value), name="what_was_used_has_an_order"
            ),
        ]
