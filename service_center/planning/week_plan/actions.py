"""The desk's deeds on a week's plan: have it planned, fix a line, move it, leave it to the plan again."""

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction
from django.db.models import F

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.letters.doorbell import ring_after_commit
from service_center.planning.rules.weeks import monday_of
from service_center.planning.week_plan.models import PlanLine, WeekPlan
from service_center.workshop.calendars.models import Watchmaker

PLAN_WEEKS = "planning.plan_weeks"


class LineGone(LookupError):  # noqa: N818  # what happened, in words
    """The line is not there any more: the week was planned anew meanwhile, or its work was finished."""


@transaction.atomic
def want_plan(day: date, *, as_of: date, at: datetime, by: Staff | None) -> WeekPlan:
    """Have the week of a day planned, anew where it is: around the fixed lines, from the day `as_of` on."""
    plan, new = WeekPlan.objects.get_or_create(
        monday=monday_of(day), defaults={"wanted_from": as_of, "wanted_at": at, "wanted_by": by}
    )
    if not new:
        _want_again(plan, as_of=as_of, at=at, by=by)
    leave_trail(by=by, deed="want_week_plan", subject=f"week:{plan.monday.isoformat()}")
    ring_after_commit(PLAN_WEEKS)
    return plan


@transaction.atomic
def fix_lines(
    pks: Sequence[int], *, watchmaker: Watchmaker, day: date, as_of: date, at: datetime, by: Staff
) -> WeekPlan:
    """Fix lines of one stretch at a bench on a day. Where that is another place than theirs, the week is planned anew.

    Raises LineGone. Whether the place can be kept the plan says: an impossible line is named there with its reason.
    """
    lines, plan = _lines(pks)
    moved = any((line.watchmaker_id, line.day) != (watchmaker.pk, day) or line.against for line in lines)
    # What was planned in its stead makes room for the decision.
    PlanLine.objects.filter(
        plan=plan, operation__in=[line.operation_id for line in lines], part__in=[line.part for line in lines]
    ).exclude(pk__in=pks).delete()
    PlanLine.objects.filter(pk__in=pks).update(
        watchmaker=watchmaker, day=day, fixed=True, fixed_at=at, fixed_by=by, against=""
    )
    _after_deed(plan, again=moved or plan.wanted, as_of=as_of, at=at, by=by)
    leave_trail(
        by=by, deed="fix_plan_line", subject=f"week:{plan.monday.isoformat()}",
        before=[_said(line) for line in lines],
        after={"watchmaker": watchmaker.pk, "day": day.isoformat()},
    )  # fmt: skip
    return plan


@transaction.atomic
def leave_to_plan(pks: Sequence[int], *, as_of: date, at: datetime, by: Staff) -> WeekPlan:
    """Take the desk's word off lines: the next plan may put them elsewhere. Raises LineGone."""
    lines, plan = _lines(pks)
    could_not_be_kept = [line.pk for line in lines if line.against]
    PlanLine.objects.filter(pk__in=could_not_be_kept).delete()
    PlanLine.objects.filter(pk__in=pks).update(fixed=False, fixed_at=None, fixed_by=None)
    _after_deed(plan, again=plan.wanted, as_of=as_of, at=at, by=by)
    leave_trail(
        by=by, deed="leave_to_plan", subject=f"week:{plan.monday.isoformat()}", before=[_said(line) for line in lines]
    )
    return plan


def _lines(pks: Sequence[int]) -> tuple[list[PlanLine], WeekPlan]:
    lines = list(PlanLine.objects.filter(pk__in=pks, operation__finished_at=None).select_related("plan"))
    if not pks or len(lines) != len(set(pks)) or len({line.plan_id for line in lines}) != 1:
        raise LineGone
    return lines, lines[0].plan


def _after_deed(plan: WeekPlan, *, again: bool, as_of: date, at: datetime, by: Staff) -> None:
    if again:
        _want_again(plan, as_of=as_of, at=at, by=by)
        ring_after_commit(PLAN_WEEKS)
    else:
        WeekPlan.objects.filter(pk=plan.pk).update(version=F("version") + 1)


def _want_again(plan: WeekPlan, *, as_of: date, at: datetime, by: Staff | None) -> None:
    WeekPlan.objects.filter(pk=plan.pk).update(
        version=F("version") + 1, wanted=True, wanted_from=as_of, wanted_at=at, wanted_by=by, begun_at=None, fault=""
    )
    plan.refresh_from_db()


def _said(line: PlanLine) -> dict[str, object]:
    return {"operation": line.operation_id, "watchmaker": line.watchmaker_id, "day": line.day.isoformat()}
