"""The pieces behind one bar, in pages by key: whose letters are out, and who is to be invited."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import chain
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from service_center.book.rules import ServiceKind
from service_center.intervals.models import DueDate
from service_center.letters.models import Letter, PlannedInvitation, Reminder
from service_center.letters.rules.words import LetterState
from service_center.planning.queries.answers import SKILL, awaited_reminders
from service_center.planning.queries.cohorts import Horizon, to_invite
from service_center.planning.rules.arrivals import ANSWER_WEEKS
from service_center.planning.rules.picture import Picture
from service_center.planning.rules.proposing import WEEKS_BEFORE_DUE
from service_center.workshop.models import WorkOrder

PAGE = 50
LETTERS_A_LOOK, LOOKS = 400, 10


@dataclass(frozen=True, slots=True)
class Cursor:
    """Where a page begins: after the row (or letter) of that day and id."""

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


def pieces_of(orders: Sequence[int]) -> dict[int, int]:
    """The piece of each order, by its id. One statement."""
    return dict(WorkOrder.objects.filter(pk__in=orders).values_list("pk", "piece"))


def letters_out_page(skill: str, monday: date, as_of: date, after: Cursor | None) -> Page:
    """Pieces still awaited of a letter that is young enough in the week to bring them, the latest letters first.

    Along the letters by their day, so many at a time: two statements each, and LOOKS times at most; a page that found
    few by then is short, and goes on where it stopped. A letter with several pieces stays on one page.
    """
    earliest = monday - timedelta(weeks=ANSWER_WEEKS - 1)
    sent = Letter.objects.filter(state=LetterState.SENT, planned_on__gte=earliest, planned_on__lte=as_of)
    rows: list[Reminder] = []
    for _look in range(LOOKS):
        some = sent
        if after:
            some = sent.filter(Q(planned_on__lt=after.day) | Q(pk__lt=after.pk), planned_on__lte=after.day)
        letters = list(some.order_by("-planned_on", "-pk").values_list("planned_on", "pk")[:LETTERS_A_LOOK])
        if not letters:
            return Page(rows, None)
        rows += (
            awaited_reminders(as_of, [ServiceKind.OVERHAUL])
            .filter(letter__in=[pk for _day, pk in letters], **{SKILL: skill})
            .select_related("piece__owner", "piece__model", "letter")
            .order_by("-letter__planned_on", "-letter__pk", "-pk")
        )
        after = Cursor(*letters[-1])
        if len(rows) > PAGE:
            last = rows[PAGE - 1].letter
            kept = [one for one in rows if (one.letter.planned_on, one.letter_id) >= (last.planned_on, last.pk)]
            return Page(kept, Cursor(last.planned_on, last.pk) if len(kept) < len(rows) else after)
    return Page(rows, after)


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
