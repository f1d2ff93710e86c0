"""Plans of weeks. What is planned is a conclusion and may be planned anew; a fixed line is the desk's decision."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from service_center.planning.rules.week_plan.why import Why
from service_center.workshop.calendars.models import Watchmaker
from service_center.workshop.orders.models import OrderOperation


class WeekPlan(models.Model):
    """The plan of the week that begins on a Monday.

    `version` grows with every deed of the desk: a plan that was worked out from an older one is not written. `wanted`:
    it waits to be worked out; `begun_at`: somebody is at it. From `as_of` on to `load` it is what the last one says:
    the parts of its cost (rules/week_plan/cost.py), that of the plain schedule, and the bounds below which none can be, in
    cost and, whatever else is left undone, in days late.
    `fault`: why the last try gave no plan.
    """

    monday = models.DateField(unique=True)
    version = models.PositiveIntegerField(default=1)
    wanted = models.BooleanField(default=True)
    wanted_from = models.DateField()
    wanted_at = models.DateTimeField()
    wanted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    begun_at = models.DateTimeField(null=True)
    fault = models.CharField(max_length=200, blank=True)
    planned_at = models.DateTimeField(null=True)
    as_of = models.DateField(null=True)
    cost = models.BigIntegerField(null=True)
    plain_cost = models.BigIntegerField(null=True)
    bound = models.BigIntegerField(null=True)
    days_bound = models.PositiveIntegerField(null=True)
    days_late = models.PositiveIntegerField(null=True)
    minutes_left_out = models.PositiveIntegerField(null=True)
    changes = models.PositiveIntegerField(null=True)
    load = models.PositiveSmallIntegerField(null=True)

    class Meta:
        indexes = [models.Index(fields=["monday"], name="week_plans_wanted", condition=Q(wanted=True))]


class PlanLine(models.Model):
    """One operation of a week's plan: at whose bench, on which day, at which place in that day's work.

    `part` of `parts`: an operation that is longer than a day goes over several; 0 of 0 otherwise.
    `fixed_by`: who of the desk decided it; empty for what was planned. `against`: why a fixed line could not be kept;
    it is then not part of the plan, and the operation may be left out of the week or have another line.
    """

    plan = models.ForeignKey(WeekPlan, on_delete=models.CASCADE, related_name="lines")
    operation = models.ForeignKey(OrderOperation, on_delete=models.PROTECT, related_name="plan_lines")
    watchmaker = models.ForeignKey(Watchmaker, on_delete=models.PROTECT, related_name="plan_lines")
    day = models.DateField()
    turn = models.PositiveSmallIntegerField()
    minutes = models.PositiveSmallIntegerField()
    part = models.PositiveSmallIntegerField(default=0)
    parts = models.PositiveSmallIntegerField(default=0)
    fixed = models.BooleanField(default=False)
    fixed_at = models.DateTimeField(null=True)
    fixed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    against = models.CharField(max_length=16, blank=True, choices=[(one.value, one.value) for one in Why])

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["plan", "operation", "part"], condition=Q(against=""), name="an_operation_once_a_week"
            ),
            models.CheckConstraint(
                condition=Q(fixed=True) | Q(against="", fixed_at=None), name="only_fixed_lines_fail"
            ),
        ]
        indexes = [models.Index(fields=["watchmaker", "day", "turn"], name="plan_lines_of_a_bench")]
