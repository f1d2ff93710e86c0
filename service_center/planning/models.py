"""Bench hours of the house by skill."""

from django.db import models

from service_center.book.rules import Complexity


class SkillHours(models.Model):
    """How many bench hours a week the house has for one skill, from a day on."""

    skill = models.CharField(max_length=16, unique=True, choices=[(skill.value, skill.value) for skill in Complexity])
    hours_a_week = models.DecimalField(max_digits=7, decimal_places=2, null=True)
    in_force_from = models.DateField(null=True)
