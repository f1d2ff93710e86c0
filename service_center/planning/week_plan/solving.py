"""Working a week's plan out and keeping it. Imports the solver: for the command alone, never for a page or the worker."""

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Max, Q, QuerySet

from service_center.planning.rules.week_plan.planning import BrokenPlan, PlannedWeek, plan_week
from service_center.planning.rules.week_plan.solver import WORK
from service_center.planning.rules.week_plan.why import Why
from service_center.planning.week_plan.models import PlanLine, WeekPlan
from service_center.planning.week_plan.queries import ToPlan, week_to_plan

# Who has begun and said nothing for so long is taken for dead.
GIVEN_UP_AFTER = timedelta(minutes=10)


def plan_waiting(*, now: datetime, work: float = WORK) -> Iterator[WeekPlan]:
    """Work out every week that waits, and keep it; each as it is done. A week that changes meanwhile waits again."""
    free = Q(begun_at=None) | Q(begun_at__lt=now - GIVEN_UP_AFTER)
    for pk in list(WeekPlan.objects.filter(free, wanted=True).order_by("monday").values_list("pk", flat=True)):
        if WeekPlan.objects.filter(free, pk=pk, wanted=True).update(begun_at=now):
            yield plan_one(WeekPlan.objects.get(pk=pk), at=now, work=work)


def plan_one(plan: WeekPlan, *, at: datetime, work: float = WORK) -> WeekPlan:
    """Work one week out from the day it was wanted on. What cannot be planned says why in `fault`."""
    found = week_to_plan(plan, plan.wanted_from)
    if found.week is None:
        _keep_fault(plan, "nobody")
    else:
        try:
            planned = plan_week(found.week, work=work)
        except BrokenPlan:
            _keep_fault(plan, "broken")
        else:
            _keep(plan, found, planned, at=at)
    return WeekPlan.objects.get(pk=plan.pk)


def _keep_fault(plan: WeekPlan, fault: str) -> None:
    WeekPlan.objects.filter(pk=plan.pk, version=plan.version).update(wanted=False, begun_at=None, fault=fault)


@transaction.atomic
def _keep(plan: WeekPlan, found: ToPlan, planned: PlannedWeek, *, at: datetime) -> None:
    cost = planned.cost
    kept = WeekPlan.objects.filter(pk=plan.pk, version=plan.version).update(
        wanted=False, begun_at=None, fault="", planned_at=at, as_of=plan.wanted_from,
        cost=cost.total, plain_cost=planned.plain.total, bound=planned.bound, days_bound=planned.days_bound,
        days_late=cost.days_late, changes=cost.changes, load=cost.load,
        minutes_left_out=sum(stretch.minutes for key, stretch in found.stretches.items() if key not in planned.plan),
    )  # fmt: skip
    if not kept:
        # Somebody changed the week meanwhile: it still waits.
        WeekPlan.objects.filter(pk=plan.pk).update(begun_at=None)
        return
    left = PlanLine.objects.filter(plan=plan, operation__finished_at=None)
    # Parts of a long operation on past days are what is known of them.
    past_parts = left.filter(part__gt=0, day__lt=plan.wanted_from)
    left.filter(fixed=False).exclude(pk__in=past_parts).delete()
    left.filter(fixed=True).update(against="")
    left.filter(fixed=True, day__lt=plan.wanted_from, part=0).update(against=Why.PAST.value)
    for one in planned.impossible:
        there = Q(watchmaker=one.place.watchmaker, day=one.place.day)
        left.filter(there, fixed=True, operation__in=found.stretches[one.task].steps).update(against=one.why.value)
    fixed = {(line.operation_id, line.watchmaker_id, line.day): line.pk for line in left.filter(fixed=True)}
    for line in _lines(plan, found, planned, _most_parts(past_parts)):
        own = fixed.get((line.operation_id, line.watchmaker_id, line.day))
        if own is None:
            line.save(force_insert=True)
        else:
            PlanLine.objects.filter(pk=own).update(
                turn=line.turn, minutes=line.minutes, part=line.part, parts=line.parts, against=""
            )


def _most_parts(lines: QuerySet[PlanLine]) -> dict[int, int]:
    return dict(lines.values_list("operation").annotate(most=Max("part")))


def _lines(plan: WeekPlan, found: ToPlan, planned: PlannedWeek, past_parts: Mapping[int, int]) -> Iterator[PlanLine]:
    """The planned lines, each day's after what is done of it."""
    done = PlanLine.objects.filter(plan=plan, operation__finished_at__isnull=False)
    turns = {(who, day): turn for who, day, turn in done.values_list("watchmaker", "day").annotate(last=Max("turn"))}
    for one in planned.lines:
        stretch = found.stretches[one.task]
        for operation in stretch.steps:
            past = past_parts.get(operation, 0)
            yield PlanLine(
                plan=plan, operation_id=operation, watchmaker_id=one.place.watchmaker, day=one.place.day,
                turn=one.turn + turns.get((one.place.watchmaker, one.place.day), 0),
                minutes=stretch.minutes if stretch.parts else found.minutes[operation],
                part=past + max(1, stretch.part) if past else stretch.part,
                parts=past + max(1, stretch.parts) if past else stretch.parts,
            )  # fmt: skip
