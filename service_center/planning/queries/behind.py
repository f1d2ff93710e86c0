"""The pieces behind one bar, in pages by key: whose letters are out, and who is to be invited."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Count, Q, QuerySet

from service_center.book.rules import ServiceKind
from service_center.letters.models import Reminder
from service_center.letters.rules.words import LetterState, Step
from service_center.planning.queries.answers import SKILL, awaited_reminders
from service_center.planning.queries.cohorts import Horizon, to_invite
from service_center.planning.rules.arrivals import ANSWER_WEEKS, COME_AT_ALL
from service_center.planning.rules.picture import Picture
from service_center.planning.rules.proposing import WEEKS_BEFORE_DUE
from service_center.workshop.models import WorkOrder

PAGE = 50


@dataclass(frozen=True, slots=True)
class Cursor:
    """Where a page begins: after the row of that day and id."""

    day: date
    pk: int

    @classmethod
    def from_text(cls, text: str) -> "Cursor | None":
        """From "2026-11-25.42"; None for anything else."""
        day, _dot, pk = text.partition(".")
        if not (pk.isascii() and pk.isdigit() and len(pk) < 19):
            return None
        try:
            return cls(date.fromisoformat(day), int(pk))
        except ValueError:
            return None

    def __str__(self) -> str:
        return f"{self.day.isoformat()}.{self.pk}"


@dataclass(frozen=True, slots=True)
class Page:
    """Rows, and where the next page begins; None on the last."""

    rows: Sequence[Any]
    next: Cursor | None


def _letters_out(skill: str, monday: date, as_of: date) -> QuerySet[Reminder]:
    """Pieces still awaited of a letter that is young enough in the week to bring them."""
    earliest = monday - timedelta(weeks=ANSWER_WEEKS - 1)
    return awaited_reminders(as_of, [ServiceKind.OVERHAUL]).filter(
        letter__state=LetterState.SENT, letter__planned_on__gte=earliest, **{SKILL: skill}
    )


def pieces_of(orders: Sequence[int]) -> dict[int, int]:
    """The piece of each order, by its id. One statement."""
    return dict(WorkOrder.objects.filter(pk__in=orders).values_list("pk", "piece"))


def letters_out_counts(skill: str, monday: date, as_of: date) -> list[dict[str, Any]]:
    """How many pieces are awaited by which letter: `kind`, `step`, `n`. One statement over the letters of half a year."""
    rows = _letters_out(skill, monday, as_of).order_by().values_list("kind", "step").annotate(n=Count("pk"))
    found = {(ServiceKind(kind), Step(step)): number for kind, step, number in rows}
    return [{"kind": sort[0], "step": sort[1], "n": found[sort]} for sort in COME_AT_ALL if sort in found]


def letters_out_page(skill: str, monday: date, as_of: date, after: Cursor | None) -> Page:
    """The pieces themselves, the latest letters first. One statement."""
    rows = _letters_out(skill, monday, as_of).select_related("piece__owner", "piece__model", "letter")
    if after:
        rows = rows.filter(Q(letter__planned_on__lt=after.day) | Q(pk__lt=after.pk), letter__planned_on__lte=after.day)
    found = list(rows.order_by("-letter__planned_on", "-pk")[: PAGE + 1])
    last = found[PAGE - 1] if len(found) > PAGE else None
    return Page(found[:PAGE], Cursor(last.letter.planned_on, last.pk) if last else None)


def invited_page(skill: str, picture: Picture, at: int, as_of: date, after: Cursor | None) -> Page:
    """The pieces to invite in a week, as it is planned now: by their planned day, otherwise by their due date. One statement."""
    monday = picture.first + timedelta(weeks=at)
    sunday = monday + timedelta(days=6)
    planned = Q(planned__gte=monday, planned__lte=sunday)
    before_due = timedelta(weeks=WEEKS_BEFORE_DUE)
    by_due = Q(planned=None, due_on__gte=monday + before_due, due_on__lte=sunday + before_due)
    if at == 0:
        by_due |= Q(planned=None, due_on__lt=monday + before_due)
    rows = (
        to_invite(Horizon(as_of, picture.first, picture.weeks))
        .filter(planned | by_due, piece__owner__letters=True, **{SKILL: skill})
        .exclude(owed_since__lte=as_of)
        .select_related("piece__owner", "piece__model")
    )
    if after:
        rows = rows.filter(Q(due_on__gt=after.day) | Q(pk__gt=after.pk), due_on__gte=after.day)
    found = list(rows.order_by("due_on", "pk")[: PAGE + 1])
    last = found[PAGE - 1] if len(found) > PAGE else None
    return Page(found[:PAGE], Cursor(last.due_on, last.pk) if last and last.due_on else None)
