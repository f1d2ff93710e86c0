"""The pieces behind one bar, in pages by key: whose letters are out, and who is to be invited."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import chain
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from service_center.book.rules import ServiceKind
from service_center.intervals.models import DueDate
from service_center.letters.models import PlannedInvitation
from service_center.letters.rules.words import LetterState
from service_center.planning.queries.answers import SKILL, awaited_reminders
from service_center.planning.queries.cohorts import Horizon, to_invite
from service_center.planning.rules.arrivals import ANSWER_WEEKS
from service_center.planning.rules.picture import Picture
from service_center.planning.rules.proposing import WEEKS_BEFORE_DUE
from service_center.workshop.models import WorkOrder

PAGE = 50


@dataclass(frozen=True, slots=True)
class Cursor:
    """Where a page begins: after the row of that day, letter (0 where there is none) and id."""

    day: date
    pk: int
    letter: int = 0

    @classmethod
    def from_text(cls, text: str) -> "Cursor | None":
        """From "2026-11-25.42" or "2026-11-25.42.7"; None for anything else."""
        day, *numbers = text.split(".")
        if not 1 <= len(numbers) <= 2 or not all(_is_number(one) for one in numbers):
            return None
        try:
            return cls(date.fromisoformat(day), *(int(one) for one in numbers))
        except ValueError:
            return None

    def __str__(self) -> str:
        return f"{self.day.isoformat()}.{self.pk}.{self.letter}"


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 19


@dataclass(frozen=True, slots=True)
class Page:
    """Rows, and where the next page begins; None on the last."""

    rows: Sequence[Any]
    next: Cursor | None


def pieces_of(orders: Sequence[int]) -> dict[int, int]:
    """The piece of each order, by its id. One statement."""
    return dict(WorkOrder.objects.filter(pk__in=orders).values_list("pk", "piece"))


def letters_out_page(skill: str, monday: date, as_of: date, after: Cursor | None) -> Page:
    """Pieces still awaited of a letter that is young enough in the week to bring them, the latest letters first.

    One statement, along the letters by their state and day: as far as a page reaches.
    """
    earliest = monday - timedelta(weeks=ANSWER_WEEKS - 1)
    rows = (
        awaited_reminders(as_of, [ServiceKind.OVERHAUL])
        .filter(letter__state=LetterState.SENT, letter__planned_on__gte=earliest, **{SKILL: skill})
        .select_related("piece__owner", "piece__model", "letter")
    )
    if after:
        same_day = Q(letter__lt=after.letter) | Q(letter=after.letter, pk__lt=after.pk)
        rows = rows.filter(Q(letter__planned_on__lt=after.day) | same_day, letter__planned_on__lte=after.day)
    found = list(rows.order_by("-letter__planned_on", "-letter__pk", "-pk")[: PAGE + 1])
    last = found[PAGE - 1] if len(found) > PAGE else None
    return Page(found[:PAGE], Cursor(last.letter.planned_on, last.pk, last.letter_id) if last else None)


def invited_page(skill: str, picture: Picture, at: int, as_of: date, after: Cursor | None) -> Page:
    """The pieces to invite in a week, as it is planned now, those due first ahead.

    Two statements: those with a planned day in the week, and those without one, by their due date.
    """
    monday = picture.first + timedelta(weeks=at)
    next_monday = monday + timedelta(weeks=1)
    before_due = timedelta(weeks=WEEKS_BEFORE_DUE)
    in_week = PlannedInvitation.objects.filter(
        piece=OuterRef("piece"), starts_on=OuterRef("starts_on"), invite_on__gte=monday, invite_on__lt=next_monday
    )
    by_due = to_invite(Horizon(as_of, picture.first, picture.weeks)).filter(due_on__lt=next_monday + before_due)
    if at:  # what is overdue is invited in the first week
        by_due = by_due.filter(due_on__gte=monday + before_due)
    planned = to_invite(Horizon(as_of, picture.first, picture.weeks)).filter(Exists(in_week))
    pages = [_invited(rows, skill, as_of, after) for rows in (planned, by_due.filter(Q(planned=None)))]
    found = sorted(chain(*pages), key=lambda one: (one.due_on or date.max, one.pk))
    last = found[PAGE - 1] if len(found) > PAGE else None
    return Page(found[:PAGE], Cursor(last.due_on, last.pk) if last and last.due_on else None)


def _invited(rows: QuerySet[DueDate], skill: str, as_of: date, after: Cursor | None) -> QuerySet[DueDate]:
    mine = rows.filter(piece__owner__letters=True, **{SKILL: skill}).exclude(owed_since__lte=as_of)
    if after:
        mine = mine.filter(Q(due_on__gt=after.day) | Q(pk__gt=after.pk), due_on__gte=after.day)
    return mine.select_related("piece__owner", "piece__model").order_by("due_on", "pk")[: PAGE + 1]
