"""Bench hours of the house by skill and by overhaul, and the levelling plans that the desk accepted."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from service_center.book.rules import Complexity
from service_center.planning.week_plan.models import PlanLine, WeekPlan

__all__ = ["AcceptedPlan", "OverhaulHours", "PlanLine", "SkillHours", "WeekPlan"]

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
