"""What came of the letters that went out, and what is still expected of them."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import TruncDate

from service_center.book.models import Custody, HistoryEntry, Piece
from service_center.book.rules import Complexity, DoneBy, EntryKind, Place, ServiceKind
from service_center.intervals.models import DueDate
from service_center.letters.models import Answer, Reminder
from service_center.letters.rules.words import AnswerChoice, LetterState, Step
from service_center.planning.rules.arrivals import Sent
from service_center.planning.rules.weeks import monday_of

SKILL = "piece__model__calibre__complexity"
SETTLED = (AnswerChoice.NOT_NOW, AnswerChoice.DONE_ELSEWHERE, AnswerChoice.NO_LONGER_MINE)


@dataclass(frozen=True, slots=True)
class Awaited:
    """Pieces of one skill whose invitation is so many weeks old, or that are booked in for a day."""

    skill: str
    weeks: int
    booked: date | None
    pieces: int


def answers_by_skill(as_of: date) -> dict[str, list[Sent]]:
    """Every overhaul invitation sent by a day: whether the piece came, and after how many weeks. One statement."""
    rows = (
        _arrivals(_invitations(as_of).filter(letter__state=LetterState.SENT), as_of)
        .order_by()
        .values_list(SKILL, "letter__planned_on", "seen", "done")
        .annotate(n=Count("pk"))
    )
    found: dict[str, list[Sent]] = {skill.value: [] for skill in Complexity}
    for skill, sent_on, seen, done, number in rows:
        if skill:
            arrived = min((day for day in (seen, done) if day), default=None)
            until = arrived or as_of
            found[skill].append(Sent((monday_of(until) - monday_of(sent_on)).days // 7, arrived is not None, number))
    return found


def awaited(as_of: date) -> list[Awaited]:
    """Invited overhauls of pieces still with their owners, unless the owner said that they do not come. One statement."""
    running = DueDate.objects.filter(piece=OuterRef("piece"), kind=OuterRef("kind"), starts_on=OuterRef("starts_on"))
    since = Answer.objects.filter(
        piece=OuterRef("piece"), owner=OuterRef("piece__owner"), said_on__gte=OuterRef("letter__planned_on"),
        said_on__lte=as_of,
    )  # fmt: skip
    latest = since.order_by("-pk")
    rows = (
        _invitations(as_of)
        .exclude(letter__state=LetterState.ENDED)
        .filter(Exists(running.filter(held="")), piece__place=Place.OWNER)
        .annotate(said=Subquery(latest.values("choice")[:1]), day=Subquery(latest.values("day")[:1]))
        .filter(Q(said=None) | ~Q(said__in=SETTLED))
        .order_by()
        .values_list(SKILL, "letter__planned_on", "said", "day")
        .annotate(n=Count("pk"))
    )
    grouped: dict[tuple[str, int, date | None], int] = defaultdict(int)
    for skill, sent_on, said, day, number in rows:
        booked = day if said == AnswerChoice.BOOKED and day and day >= as_of else None
        if skill:
            grouped[skill, max(0, (monday_of(as_of) - monday_of(sent_on)).days // 7), booked] += number
    return [Awaited(*key, pieces) for key, pieces in grouped.items()]


def in_the_house() -> dict[str, int]:
    """Pieces at a boutique or in the workshop, by skill. One statement."""
    rows = Piece.objects.exclude(place=Place.OWNER).values_list("model__calibre__complexity").annotate(n=Count("pk"))
    return {skill: number for skill, number in rows if skill}


def _invitations(as_of: date) -> QuerySet[Reminder]:
    return Reminder.objects.filter(
        kind=ServiceKind.OVERHAUL, step=Step.INVITATION, ended_on=None, letter__planned_on__lte=as_of
    )


def _arrivals(rows: QuerySet[Reminder], as_of: date) -> QuerySet[Reminder]:
    """With the days on which the piece came after its letter: first seen in the house, and overhauled by it."""
    moved = (
        Custody.objects.filter(piece=OuterRef("piece"))
        .exclude(place=Place.OWNER)
        .annotate(day=TruncDate("since"))
        .filter(day__gte=OuterRef("letter__planned_on"), day__lte=as_of)
    )
    done = HistoryEntry.objects.filter(
        piece=OuterRef("piece"), kind=EntryKind.OVERHAUL, corrections=None, voids=None,
        done_on__gte=OuterRef("letter__planned_on"), done_on__lte=as_of,
    ).exclude(done_by=DoneBy.OUTSIDE)  # fmt: skip
    return rows.annotate(
        seen=Subquery(moved.order_by("day").values("day")[:1]),
        done=Subquery(done.order_by("done_on").values("done_on")[:1]),
    )
