"""Orders of parts. What was ordered, what was said of it later and what came are facts; what is on order follows."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from service_center.workshop.parts.models import Part, StockMove


class PartsOrder(models.Model):
    """What was ordered at once, from whom, and what the supplier calls it. The same form twice is one order."""

    form_key = models.UUIDField(unique=True)
    supplier = models.CharField(max_length=200, blank=True)
    reference = models.CharField(max_length=64, blank=True)
    ordered_on = models.DateField()
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return self.number

    @property
    def number(self) -> str:
        """By which the house names it."""
        return f"P-{self.pk:06d}"


class OrderedPart(models.Model):
    """So many of one part, expected on a day, as they were ordered. What was said later stands in OrderedWord."""

    order = models.ForeignKey(PartsOrder, on_delete=models.PROTECT, related_name="lines")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="ordered")
    quantity = models.PositiveIntegerField()
    expected_on = models.DateField()

    class Meta:
        indexes = [models.Index(fields=["part", "-id"], name="ordered_of_part")]
        constraints = [
            models.UniqueConstraint(fields=["order", "part"], name="a_part_once_an_order_of_parts"),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="an_order_of_parts_orders_something"),
        ]


class OrderedWord(models.Model):
    """What was heard later: how many come in all, and when. The latest holds; none at all is a cancelled line."""

    form_key = models.UUIDField(unique=True)
    line = models.ForeignKey(OrderedPart, on_delete=models.PROTECT, related_name="words")
    quantity = models.PositiveIntegerField()
    expected_on = models.DateField()
    why = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")


class PartsDelivery(models.Model):
    """A move of the shelf that is part of what was ordered. One below nothing takes back what was written wrongly."""

    line = models.ForeignKey(OrderedPart, on_delete=models.PROTECT, related_name="deliveries")
    move = models.OneToOneField(StockMove, on_delete=models.PROTECT, related_name="delivery")


class OnOrder(models.Model):
    """What is still to come of a line, as its facts say now; a line that is whole, or over, has none.

    A conclusion: written with every fact of its line, so that pages read what is open and not the orders of years.
    """

    line = models.OneToOneField(OrderedPart, on_delete=models.CASCADE, related_name="on_order")
    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="on_order")
    quantity = models.PositiveIntegerField()
    expected_on = models.DateField()

    class Meta:
        indexes = [models.Index(fields=["expected_on", "id"], name="on_order_by_day")]
        constraints = [models.CheckConstraint(condition=Q(quantity__gt=0), name="something_is_on_order")]
