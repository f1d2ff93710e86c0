"""What came of the letters that went out, and what is still expected of them."""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import CharField, Count, Exists, ExpressionWrapper, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import TruncDate

from service_center.book.models import Custody, HistoryEntry, Piece
from service_center.book.rules import Complexity, DoneBy, EntryKind, Place, ServiceKind
from service_center.intervals.models import DueDate
from service_center.letters.models import Answer, Reminder
from service_center.letters.rules.words import AnswerChoice, LetterState, Step
from service_center.planning.rules.arrivals import ANSWER_WEEKS, COME_AT_ALL, OVERHAUL_INVITATION, Sort
from service_center.planning.rules.survival import Sent
from service_center.planning.rules.weeks import monday_of
from service_center.workshop.models import WorkOrder

SKILL = "piece__model__calibre__complexity"
SETTLED = (AnswerChoice.NOT_NOW, AnswerChoice.DONE_ELSEWHERE, AnswerChoice.NO_LONGER_MINE)


@dataclass(frozen=True, slots=True)
class Awaited:
    """Pieces of one skill whose latest letter is so many weeks old, or that are booked in for a day."""

    skill: str
    weeks: int
    booked: date | None
    pieces: int
    sort: Sort = OVERHAUL_INVITATION


@dataclass(frozen=True, slots=True)
class WrittenTo:
    """One letter about one overhaul that went out on a day, and the day on which the piece came after it, if it did."""

    piece: int
    starts_on: date
    skill: str
    step: Step
    day: date
    came: date | None


def answers_by_letter(as_of: date) -> dict[Sort, dict[str, list[Sent]]]:
    """Every letter sent by a day, by its sort and skill: whether the piece came, and after how many weeks. One statement."""
    rows = (
        _arrivals(_reminders(as_of).filter(letter__state=LetterState.SENT), as_of)
        .order_by()
        .values_list("kind", "step", SKILL, "letter__planned_on", "seen", "done")
        .annotate(n=Count("pk"))
    )
    counted: Counter[tuple[Sort, str, int, bool]] = Counter()
    for kind, step, skill, sent_on, seen, done, number in rows.iterator(chunk_size=10_000):
        arrived = min((day for day in (seen, done) if day), default=None)
        weeks = (monday_of(arrived or as_of) - monday_of(sent_on)).days // 7
        if skill:
            counted[(ServiceKind(kind), Step(step)), skill, weeks, arrived is not None] += number
    return _by_sort_and_skill(counted)


def overhaul_answers_known(letters: Iterable[WrittenTo], as_of: date) -> dict[Sort, dict[str, list[Sent]]]:
    """What `answers_by_letter` says of overhauls, from letters read on a later day (`written_to`). No statement."""
    counted: Counter[tuple[Sort, str, int, bool]] = Counter()
    for one in letters:
        if one.day <= as_of:
            arrived = one.came if one.came and one.came <= as_of else None
            weeks = (monday_of(arrived or as_of) - monday_of(one.day)).days // 7
            counted[(ServiceKind.OVERHAUL, one.step), one.skill, weeks, arrived is not None] += 1
    return _by_sort_and_skill(counted)


def _by_sort_and_skill(counted: Counter[tuple[Sort, str, int, bool]]) -> dict[Sort, dict[str, list[Sent]]]:
    found: dict[Sort, dict[str, list[Sent]]] = {sort: {skill.value: [] for skill in Complexity} for sort in COME_AT_ALL}
    for (sort, skill, weeks, came), pieces in sorted(counted.items()):
        if sort in found:
            found[sort][skill].append(Sent(weeks, came, pieces))
    return found


def awaited(as_of: date, kinds: Collection[ServiceKind] = tuple(ServiceKind)) -> list[Awaited]:
    """Pieces that were written to and are still with their owners, by the latest letter. One statement.

    Not of owners who said that they do not come. Where the overhaul is invited, it takes the tightness test along.
    """
    rows = (
        awaited_reminders(as_of, kinds)
        .order_by()
        .values_list("kind", "step", SKILL, "letter__planned_on", "said", "day")
        .annotate(n=Count("pk"))
    )
    grouped: dict[tuple[str, int, date | None, Sort], int] = defaultdict(int)
    for kind, step, skill, sent_on, said, day, number in rows:
        booked = day if said == AnswerChoice.BOOKED and day and day >= as_of else None
        if skill:
            weeks = max(0, (monday_of(as_of) - monday_of(sent_on)).days // 7)
            grouped[skill, weeks, booked, (ServiceKind(kind), Step(step))] += number
    return [Awaited(skill, weeks, booked, pieces, sort) for (skill, weeks, booked, sort), pieces in grouped.items()]


def awaited_reminders(as_of: date, kinds: Collection[ServiceKind]) -> QuerySet[Reminder]:
    """The latest letter about each such piece, with the owner's word since (`said`, `day`)."""
    running = DueDate.objects.filter(piece=OuterRef("piece"), kind=OuterRef("kind"), starts_on=OuterRef("starts_on"))
    since = Answer.objects.filter(
        piece=OuterRef("piece"), owner=OuterRef("piece__owner"), said_on__gte=OuterRef("letter__planned_on"),
        said_on__lte=as_of,
    )  # fmt: skip
    latest = since.order_by("-pk")
    return (
        _latest(_reminders(as_of).filter(kind__in=kinds), as_of)
        .exclude(letter__state=LetterState.ENDED)
        .filter(Exists(running.filter(held="")), piece__place=Place.OWNER)
        .annotate(said=Subquery(latest.values("choice")[:1]), day=Subquery(latest.values("day")[:1]))
        .exclude(Q(said__isnull=False) & Q(said__in=SETTLED))
    )


def arrivals_by_week(first: date, until: date) -> Counter[tuple[date, str]]:
    """Pieces that came for the overhaul they were written about, by the Monday of their week and skill. One statement.

    From the Monday `first` to the one before `until`; later than the curve reaches after its last letter, nobody
    is counted: it is then no answer any more.
    """
    came = set()
    for one in written_to(until - timedelta(days=1), since=first - timedelta(weeks=ANSWER_WEEKS)):
        week = monday_of(one.came) if one.came else None
        if week and week >= first and (week - monday_of(one.day)).days // 7 < ANSWER_WEEKS:
            came.add((one.piece, one.starts_on, week, one.skill))
    return Counter((week, skill) for _piece, _starts_on, week, skill in came)


def written_to(until: date, since: date = date.min) -> Iterator[WrittenTo]:
    """Every letter about an overhaul that went out between two days, of pieces with a skill. One statement."""
    rows = (
        _arrivals(_reminders(until).filter(letter__state=LetterState.SENT), until)
        .filter(kind=ServiceKind.OVERHAUL, letter__planned_on__gte=since)
        .order_by()
        .values_list("piece", "starts_on", SKILL, "step", "letter__planned_on", "seen", "done")
    )
    for piece, starts_on, skill, step, day, seen, done in rows.iterator(chunk_size=10_000):
        if skill:
            came = min((one for one in (seen, done) if one), default=None)
            yield WrittenTo(piece, starts_on, skill, Step(step), day, came)


def in_the_house() -> dict[str, int]:
    """Pieces at a boutique or in the workshop for which there is no order, by skill. One statement."""
    orders = WorkOrder.objects.filter(piece=OuterRef("pk"), closed_on=None)
    here = Piece.objects.exclude(place=Place.OWNER).filter(~Exists(orders))
    rows = here.order_by().values_list("model__calibre__complexity").annotate(n=Count("pk"))
    return {skill: number for skill, number in rows if skill}


def _reminders(as_of: date) -> QuerySet[Reminder]:
    return Reminder.objects.filter(ended_on=None, letter__planned_on__lte=as_of)


def _latest(rows: QuerySet[Reminder], as_of: date) -> QuerySet[Reminder]:
    """Those that no later one of the same interval follows, and no overhaul's that takes the test along."""
    later = _reminders(as_of).filter(
        piece=OuterRef("piece"), kind=OuterRef("kind"), starts_on=OuterRef("starts_on"),
        letter__planned_on__gt=OuterRef("letter__planned_on"),
    ).exclude(letter__state=LetterState.ENDED)  # fmt: skip
    overhaul = DueDate.objects.filter(
        piece=OuterRef("piece"), starts_on=OuterRef("starts_on"), kind=ServiceKind.OVERHAUL, held=""
    )
    taken_along = _reminders(as_of).filter(piece=OuterRef("piece"), kind=ServiceKind.OVERHAUL).filter(Exists(overhaul))
    return rows.filter(~Exists(later)).exclude(Q(kind=ServiceKind.TIGHTNESS) & Exists(taken_along))


def _arrivals(rows: QuerySet[Reminder], as_of: date) -> QuerySet[Reminder]:
    """With the days on which the piece came after its letter: first seen in the house, and served by it."""
    moved = (
        Custody.objects.filter(piece=OuterRef("piece"))
        .exclude(place=Place.OWNER)
        .annotate(day=TruncDate("since"))
        .filter(day__gte=OuterRef("letter__planned_on"), day__lte=as_of)
    )
    about = ExpressionWrapper(OuterRef("kind"), output_field=CharField())
    asked_for = Q(kind=EntryKind.OVERHAUL) | Q(kind=EntryKind.TIGHTNESS_CHECK, about=ServiceKind.TIGHTNESS)
    done = HistoryEntry.objects.annotate(about=about).filter(
        asked_for, piece=OuterRef("piece"), corrections=None, voids=None,
        done_on__gte=OuterRef("letter__planned_on"), done_on__lte=as_of,
    ).exclude(done_by=DoneBy.OUTSIDE)  # fmt: skip
    return rows.annotate(
        seen=Subquery(moved.order_by("day").values("day")[:1]),
        done=Subquery(done.order_by("done_on").values("done_on")[:1]),
    )
