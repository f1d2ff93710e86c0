"""The house's table of usual days and prices."""

from django.db import models

from service_center.book.rules import Complexity
from service_center.intake.rules import Asked


class TermOfHouse(models.Model):
    """What the desk wrote for one kind of work and one complexity; where it wrote nothing the rules' days hold."""

    asked = models.CharField(max_length=16, choices=[(one.value, one.value) for one in Asked])
    complexity = models.CharField(max_length=16, choices=[(one.value, one.value) for one in Complexity])
    days = models.PositiveSmallIntegerField()
    price = models.DecimalField(max_digits=12, decimal_places=2, null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["asked", "complexity"], name="one_term_of_the_house")]
