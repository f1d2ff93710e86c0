"""Proposing a levelling plan and accepting it; bench hours that the house writes down."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from itertools import islice

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.intervals.actions import bring_to
from service_center.letters.actions import PlannedDay, plan_invitations
from service_center.planning import queries
from service_center.planning.models import AcceptedPlan, OverhaulHours
from service_center.planning.queries import Levelling
from service_center.planning.queries.cohorts import pieces_in_order
from service_center.planning.rules.days import Places
from service_center.planning.rules.proposing import Proposal, propose
from service_center.planning.rules.weeks import week_at

DAYS_AT_ONCE = 5_000


@dataclass(frozen=True, slots=True)
class Proposed:
    """A proposal and the problem that it solves."""

    levelling: Levelling
    proposal: Proposal


class NotAsSeen(Exception):  # noqa: N818  # what happened, in words
    """The proposal is no longer the one that somebody looked at."""


def propose_levelling(*, as_of: date, weeks: int) -> Proposed:
    """Bring the due dates to the day and level the invitations from it. Writes no plan. Raises NotOptimal."""
    bring_to(as_of=as_of)
    return look_at_levelling(as_of=as_of, weeks=weeks)


def look_at_levelling(*, as_of: date, weeks: int) -> Proposed:
    """The same over the due dates as they are stored, which the day's round has brought to it. Writes nothing."""
    found = queries.levelling(as_of, weeks)
    return Proposed(found, propose(found.problem, found.accepted_gap))


def accept_levelling(
    *, as_of: date, weeks: int, at: datetime, by: Staff | None, only_if: Callable[[Proposed], bool] = lambda _: True
) -> tuple[Proposed, int]:
    """Work the proposal out and write its days down: how many changed.

    Raises NotOptimal, or NotAsSeen where `only_if` does not know the proposal; no plan is written then. Worked out and
    written in one transaction, so that what is written is what the book says; the due dates are brought to the day
    before it. A piece that keeps its week keeps its day.
    """
    bring_to(as_of=as_of)
    with transaction.atomic():
        proposed = look_at_levelling(as_of=as_of, weeks=weeks)
        if not only_if(proposed):
            raise NotAsSeen
        changed = 0 if proposed.proposal.unchanged else _write_down(proposed, at=at, by=by)
    return proposed, changed


def _write_down(proposed: Proposed, *, at: datetime, by: Staff | None) -> int:
    days, changed = _changed_days(proposed), 0
    while some := list(islice(days, DAYS_AT_ONCE)):
        changed += plan_invitations(some, at=at, by=by)
    horizon, proposal = proposed.levelling.horizon, proposed.proposal
    plan = AcceptedPlan.objects.create(
        as_of=horizon.as_of, weeks=horizon.weeks, objective=proposal.objective, gap=proposal.gap,
        pieces=int(proposal.invited.sum()), changed=changed, accepted_at=at, accepted_by=by,
    )  # fmt: skip
    after = {
        "as_of": horizon.as_of.isoformat(), "weeks": horizon.weeks, "pieces": plan.pieces, "changed": changed,
    }  # fmt: skip
    leave_trail(by=by, deed="accept_levelling", subject=f"plan:{plan.pk}", after=after)
    return changed


def _changed_days(proposed: Proposed) -> Iterator[PlannedDay]:
    problem, horizon = proposed.levelling.problem, proposed.levelling.horizon
    places = Places(problem.cohorts, proposed.proposal.invited.tolist())
    for one in pieces_in_order(horizon):
        week = places.next_week(one["cohort"])
        if one["planned"] is not None and week_at(one["planned"], horizon.first) == week:
            continue
        day = places.day_in(
            week, first=horizon.first, as_of=horizon.as_of, opens_on=one["opens_on"], closes_on=one["closes_on"]
        )
        yield PlannedDay(one["piece"], one["starts_on"], day)


@transaction.atomic
def keep_overhaul_hours(skill: str, hours: Decimal, *, by: Staff) -> None:
    """Write down how many bench hours an overhaul of a skill takes in this house."""
    before = OverhaulHours.objects.filter(skill=skill).values_list("hours", flat=True).first()
    OverhaulHours.objects.update_or_create(skill=skill, defaults={"hours": hours})
    leave_trail(
        by=by, deed="overhaul_hours", subject=f"skill:{skill}",
        before=None if before is None else str(before), after=str(hours),
    )  # fmt: skip
