"""Bench hours of the house, accepted plans, what the worker works out of the coming weeks, and past forecasts."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from service_center.book.rules import Complexity
from service_center.letters.asked_for import AskedFor
from service_center.planning.parts.models import PartOutlook
from service_center.planning.rules.words import Outcome, ReckoningSort
from service_center.planning.week_plan.models import PlanLine, WeekPlan

__all__ = [
    "AcceptedPlan", "Forecast", "OverhaulHours", "PartOutlook", "PlanLine", "Reckoning", "SkillHours", "WeekArrivals", "WeekPlan",
]  # fmt: skip

SKILLS = [(skill.value, skill.value) for skill in Complexity]


class SkillHours(models.Model):
    """How many bench hours a week the house has for one skill, from a day on."""

    skill = models.CharField(max_length=16, unique=True, choices=SKILLS)
    hours_a_week = models.DecimalField(max_digits=7, decimal_places=2, null=True)
    in_force_from = models.DateField(null=True)


class OverhaulHours(models.Model):
    """How many bench hours an overhaul takes in this house, where it differs from common practice."""

    skill = models.CharField(max_length=16, unique=True, choices=SKILLS)
    hours = models.DecimalField(max_digits=6, decimal_places=2)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(hours__gt=0), name="an_overhaul_takes_time")]


class AcceptedPlan(models.Model):
    """A levelling plan that was accepted. The planned days themselves are records of letters.

    `gap`: by how much its whole pieces cost more than the minimum; a plan no farther off is left as it is.
    `pieces`: planned in all; `changed`: those whose day it set or changed.
    """

    as_of = models.DateField()
    weeks = models.PositiveSmallIntegerField()
    objective = models.FloatField()
    gap = models.FloatField()
    pieces = models.PositiveIntegerField()
    changed = models.PositiveIntegerField()
    accepted_at = models.DateTimeField()
    accepted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")


class Reckoning(AskedFor):
    """Something about the coming weeks that takes longer than a page may: asked for here, worked out by the worker.

    `about`: of a plan to accept, the proposal that was seen; of a what-if, what it changes. `picture`: what pages show
    of it (rules.picture); `problem`: what a what-if starts from.
    """

    sort = models.CharField(max_length=8, choices=[(one.value, one.value) for one in ReckoningSort])
    weeks = models.PositiveSmallIntegerField()
    as_of = models.DateField()
    about = models.JSONField(default=dict)
    outcome = models.CharField(max_length=12, blank=True, choices=[(one.value, one.value) for one in Outcome])
    picture = models.JSONField(null=True)
    problem = models.JSONField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["weeks"], condition=Q(sort=ReckoningSort.PICTURE.value, finished_at=None),
                name="one_picture_under_way",
            ),
        ]  # fmt: skip
        indexes = [
            models.Index(fields=["sort", "weeks", "-id"], name="reckonings_by_sort"),
            models.Index(fields=["id"], condition=Q(finished_at=None), name="reckonings_under_way"),
        ]


class Forecast(models.Model):
    """How many pieces letters were expected to bring in one week, as it was said weeks before. Facts; one a week.

    `made_in`, `week`: Mondays, `ahead` weeks apart. `low` and `high`: in one week of ten fewer come, in one of ten more.
    """

    made_on = models.DateField()
    made_in = models.DateField()
    week = models.DateField()
    ahead = models.PositiveSmallIntegerField()
    skill = models.CharField(max_length=16, choices=SKILLS)
    expected = models.FloatField()
    low = models.PositiveIntegerField()
    high = models.PositiveIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["week", "skill", "made_in"], name="one_forecast_a_week"),
            models.CheckConstraint(condition=Q(low__lte=models.F("high")), name="a_range_has_two_ends"),
        ]
        indexes = [
            models.Index(fields=["made_in"], name="forecasts_by_week_made"),
            models.Index(fields=["ahead", "week"], name="forecasts_by_horizon"),
        ]


class WeekArrivals(models.Model):
    """How many pieces came to their overhaul after a letter, in one week that is over. Counted anew while late entries come in."""

    week = models.DateField()
    skill = models.CharField(max_length=16, choices=SKILLS)
    pieces = models.PositiveIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["week", "skill"], name="arrivals_once_a_week")]
