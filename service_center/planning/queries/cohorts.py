"""Overhauls to invite, counted by their weeks: the cohorts of the levelling problem."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import Count, F, OuterRef, QuerySet, Subquery

from service_center.book.rules import Place, ServiceKind
from service_center.intervals.models import DueDate
from service_center.letters.models import PlannedInvitation
from service_center.letters.queries.coming import not_invited
from service_center.measurements.models import Reading
from service_center.planning.rules.levelling import Cohort, closes_for_planning
from service_center.planning.rules.weeks import monday_at, week_at

SKILL = "piece__model__calibre__complexity"
WINDOW = ("opens_on", "due_on", "closes_on")


@dataclass(frozen=True, slots=True)
class Horizon:
    """So many weeks from the one that begins on the Monday `first`; `as_of` lies in that week."""

    as_of: date
    first: date
    weeks: int


@dataclass(slots=True)
class Found:
    """The cohorts, by their key; overhauls that are owed and go out at once; and how many cannot be planned."""

    cohorts: Counter[Cohort] = field(default_factory=Counter)
    owed: Counter[str] = field(default_factory=Counter)
    no_letters: int = 0
    no_skill: int = 0


def count_cohorts(horizon: Horizon) -> Found:
    """Every overhaul due by the end of the horizon of a piece that is with its owner, and not invited. One statement."""
    grouped = (
        to_invite(horizon)
        .order_by()
        .values_list(SKILL, *WINDOW, "planned", "owed_since", "piece__owner__letters")
        .annotate(n=Count("pk"))
    )
    found = Found()
    for skill, opens_on, due_on, closes_on, planned, owed_since, letters, number in grouped.iterator(chunk_size=10_000):
        if not letters:
            found.no_letters += number
        elif not skill:
            found.no_skill += number
        elif owed_since is not None and owed_since <= horizon.as_of:
            found.owed[skill] += number
        else:
            found.cohorts[cohort_of(horizon, skill, opens_on, due_on, closes_on, planned)] += number
    return found


def pieces_in_order(horizon: Horizon) -> Iterator[dict[str, Any]]:
    """The pieces of the cohorts, those due first ahead, then those with the worse last reading. One statement.

    Keys: piece, starts_on, cohort, planned (a day or None), opens_on, closes_on.
    """
    last_sheet = (
        Reading.objects.filter(sheet__piece=OuterRef("piece"), sheet__corrections=None, amplitude__isnull=False)
        .order_by("-sheet__taken_on", "-sheet", "amplitude")
        .values("amplitude")[:1]
    )
    rows = (
        to_invite(horizon)
        .filter(piece__owner__letters=True)
        .exclude(owed_since__lte=horizon.as_of)
        .annotate(reading=Subquery(last_sheet))
        .order_by("due_on", F("reading").asc(nulls_last=True), "piece")
        .values_list("piece", "starts_on", SKILL, *WINDOW, "planned")
    )
    for piece, starts_on, skill, opens_on, due_on, closes_on, planned in rows.iterator(chunk_size=10_000):
        if skill:
            yield {
                "piece": piece,
                "starts_on": starts_on,
                "cohort": cohort_of(horizon, skill, opens_on, due_on, closes_on, planned),
                "planned": planned,
                "opens_on": opens_on,
                "closes_on": closes_on,
            }


def cohort_of(
    horizon: Horizon, skill: str, opens_on: date, due_on: date, closes_on: date, planned: date | None
) -> Cohort:
    """The key of a piece's cohort, with no pieces. A plan outside the horizon, or its window, is no plan."""
    opens, due, closes = (week_at(day, horizon.first) for day in (opens_on, due_on, closes_on))
    closes = closes_for_planning(opens, closes)
    week = None if planned is None else week_at(planned, horizon.first)
    if week is not None and not max(opens, 0) <= week <= min(closes, horizon.weeks - 1):
        week = None
    return Cohort(skill, opens, due, closes, 0, week)


def to_invite(horizon: Horizon) -> QuerySet[DueDate]:
    """Overhauls that are to be invited by the end of the horizon, with their planned day (`planned`), if they have one."""
    plan = PlannedInvitation.objects.filter(piece=OuterRef("piece"), starts_on=OuterRef("starts_on"))
    due = DueDate.objects.filter(
        kind=ServiceKind.OVERHAUL, starts_on__isnull=False, held="", piece__place=Place.OWNER,
        due_on__lt=monday_at(horizon.weeks, horizon.first),
    )  # fmt: skip
    return not_invited(due).annotate(planned=Subquery(plan.values("invite_on")[:1]))
