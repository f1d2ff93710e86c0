"""Tightness tests as they were made. Facts only; what passes is a rule, and the database keeps dry before wet."""

from django.conf import settings
from django.db import models

from service_center.book.models import Piece
from service_center.measurements.rules.tightness import TightnessTest

CHOICES = [(test.value, test.value) for test in TightnessTest]


class TightnessPractice(models.Model):
    """The house's own choices for tests, in one row; without it those of `rules.tightness.HOUSE_PRACTICE`."""

    every_piece_at_125 = models.BooleanField(default=False)
    vacuum_first = models.BooleanField(default=True)
    water_for_divers_alone = models.BooleanField(default=False)
    free_volume_ml = models.DecimalField(max_digits=7, decimal_places=2, null=True)


class TightnessRun(models.Model):
    """One go through the tests of one piece, begun under the plan that is kept with it.

    A failed test ends it: whoever mends the piece begins a new one in air. `form_key` makes a double tap one run.
    """

    form_key = models.UUIDField(unique=True)
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="tightness_runs")
    begun_on = models.DateField()
    begun_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    recorded_at = models.DateTimeField(auto_now_add=True)
    rated_bar = models.DecimalField(max_digits=7, decimal_places=2)
    divers = models.BooleanField()
    at_125 = models.BooleanField()
    vacuum_first = models.BooleanField()
    water = models.BooleanField()

    class Meta:
        indexes = [models.Index(fields=["piece", "begun_on"], name="tightness_of_piece")]


class TightnessResult(models.Model):
    """One test of a run: overpressure in bar (below zero: vacuum), minutes held, and what the tester showed.

    Pressures at the ends are absolute, in mbar; the volume is the free one, in ml. Water is never entered before the
    dry tests passed: a trigger refuses it whoever writes.
    """

    run = models.ForeignKey(TightnessRun, on_delete=models.PROTECT, related_name="results")
    test = models.CharField(max_length=16, choices=CHOICES)
    made_on = models.DateField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    recorded_at = models.DateTimeField(auto_now_add=True)
    bar = models.DecimalField(max_digits=7, decimal_places=3, null=True)
    minutes = models.DecimalField(max_digits=7, decimal_places=2, null=True)
    pressure_drop_mbar = models.DecimalField(max_digits=10, decimal_places=4, null=True)
    volume_ml = models.DecimalField(max_digits=9, decimal_places=3, null=True)
    start_c = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    end_c = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    micrograms_a_minute = models.DecimalField(max_digits=12, decimal_places=4, null=True)
    passed = models.BooleanField()
    remark = models.TextField(blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["run", "test"], name="a_test_once_a_run")]
