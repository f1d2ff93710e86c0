"""Which due dates have a reminder to come by a day: selected by the database, decided by the rules.

Each selection may name too many, never too few; `letters.rules` decides. None of them asks who may be written to.
"""

from collections.abc import Collection, Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from typing import Any

from django.db import connection, transaction
from django.db.models import (
    DateField,
    Exists,
    ExpressionWrapper,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Value,
)
from django.db.models.expressions import Combinable
from django.db.models.functions import Cast, ExtractDay, ExtractMonth, ExtractYear, Lower

from service_center.book.rules import ServiceKind
from service_center.intervals.models import DueDate
from service_center.letters.models import Answer, Letter, PlannedInvitation, Reminder, StoppedAddress
from service_center.letters.queries.grounds import has_ground
from service_center.letters.rules.steps import HOUSE_DAYS, StepDays
from service_center.letters.rules.words import AnswerChoice, LetterState, Step

ALIVE = {"ended_on": None}
OF_INTERVAL = {"piece": OuterRef("piece"), "kind": OuterRef("kind"), "starts_on": OuterRef("starts_on"), **ALIVE}
SETTLES_NUDGE = tuple(choice for choice in AnswerChoice if choice is not AnswerChoice.NOT_NOW)


def may_be_written_to() -> Q:
    """Of a due date: nobody holds the piece, and its owner has letters, a ground for them, and an address that works."""
    works = ~Q(piece__owner__email="") & ~Q(Exists(stopped("piece__owner__email")))
    return wants_letters() & Q(held="") & works


def wants_letters() -> Q:
    """Of a due date: the piece's owner has letters, and a ground for them is written down."""
    return Q(piece__owner__letters=True) & Q(has_ground("piece__owner"))


def stopped(email: str) -> QuerySet[StoppedAddress]:
    """The stop of an outer row's address."""
    return StoppedAddress.objects.filter(email=Lower(OuterRef(email)))


@contextmanager
def room_to_work() -> Iterator[None]:
    """On PostgreSQL, for the selections of a whole book: memory for their joins, and no time spent on compiling them.

    Elsewhere nothing: a transaction of SQLite would keep every writer waiting.
    """
    if connection.vendor != "postgresql":
        yield
        return
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET LOCAL jit = off; SET LOCAL work_mem = '64MB'")
        yield


def selections(as_of: date, days: StepDays = HOUSE_DAYS) -> list[QuerySet[DueDate]]:
    """Due dates for which some step's day has come, a selection a step and kind."""
    started = DueDate.objects.filter(starts_on__isnull=False)
    overhauls, checks = started.filter(kind=ServiceKind.OVERHAUL), started.filter(kind=ServiceKind.TIGHTNESS)
    checks = not_absorbed(checks, as_of, days)
    before_due = as_of + timedelta(days=days.invite_before_due)
    planned = PlannedInvitation.objects.filter(
        piece=OuterRef("piece"),
        starts_on=OuterRef("starts_on"),
        invite_on__lte=as_of,
        invite_on__gte=OuterRef("opens_on"),
    )
    return [
        not_invited(overhauls.filter(opens_on__lte=as_of, due_on__lte=before_due)),
        not_invited(overhauls.filter(Exists(planned), opens_on__lte=as_of, due_on__gt=before_due)),
        not_invited(overhauls.filter(owed_since__lte=as_of, due_on__gt=before_due)),
        not_invited(checks.filter(Q(opens_on__lte=as_of) | Q(owed_since__lte=as_of))),
        _to_nudge(overhauls, as_of, days),
        _to_nudge(checks, as_of, days),
        _last_letters(overhauls, as_of, days),
        _yearly(checks, as_of),
    ]


def not_invited(rows: QuerySet[DueDate]) -> QuerySet[DueDate]:
    return rows.filter(~Exists(Reminder.objects.filter(step=Step.INVITATION, **OF_INTERVAL)))


def not_absorbed(checks: QuerySet[DueDate], as_of: date, days: StepDays) -> QuerySet[DueDate]:
    """Without pieces whose overhaul is invited, or planned soon: then it takes the check along.

    An owed test is left in: it does not wait for an overhaul of next month. What an owner asked back is asked back for
    both kinds of a piece, so that it changes nothing here.
    """
    overhaul = DueDate.objects.filter(piece=OuterRef("piece"), kind=ServiceKind.OVERHAUL)
    invited = overhaul.filter(Exists(Reminder.objects.filter(step=Step.INVITATION, **OF_INTERVAL)))
    soon = as_of + timedelta(days=days.absorb_within)
    later = PlannedInvitation.objects.filter(
        piece=OuterRef("piece"), starts_on=OuterRef("starts_on"), invite_on__gt=soon
    )
    near = overhaul.filter(
        ~Exists(later), opens_on__lte=soon, due_on__lte=soon + timedelta(days=days.invite_before_due), held=""
    )
    return checks.filter(~Exists(invited)).filter(Q(owed_since__isnull=False) | ~Exists(near))


def _to_nudge(rows: QuerySet[DueDate], as_of: date, days: StepDays) -> QuerySet[DueDate]:
    """Invited long enough ago, with nothing after it and no answer that settles it."""
    followed = Reminder.objects.filter(step__in=[Step.NUDGE, Step.YEARLY], **OF_INTERVAL)
    invited = sent(Step.INVITATION, as_of - timedelta(days=days.nudge_after), unless=SETTLES_NUDGE)
    return rows.filter(Exists(invited), ~Exists(followed))


def _last_letters(overhauls: QuerySet[DueDate], as_of: date, days: StepDays) -> QuerySet[DueDate]:
    """Closed, nudged long enough ago, and no last letter yet."""
    followed = Reminder.objects.filter(step=Step.LAST, **OF_INTERVAL)
    nudged = sent(Step.NUDGE, as_of - timedelta(days=days.last_after), unless=[AnswerChoice.DONE_ELSEWHERE])
    return overhauls.filter(Exists(nudged), ~Exists(followed), closes_on__lte=as_of)


def _yearly(checks: QuerySet[DueDate], as_of: date) -> QuerySet[DueDate]:
    """Invited, a whole year past due, and nothing about it since the latest such day."""
    # In numbers such as 20261125 whole years are the difference by 10,000, on both databases. The day more lets
    # 28 February stand for a 29th.
    by_now = _whole_years(Value(as_of.year * 10_000 + as_of.month * 100 + as_of.day + 1), "due_on")
    spoken = Reminder.objects.filter(**OF_INTERVAL).annotate(
        years=_whole_years(
            _as_number("letter__planned_on"), ExpressionWrapper(OuterRef("due_on"), output_field=DateField())
        )
    )
    return (
        checks.filter(Exists(sent(Step.INVITATION, as_of)), due_on__lt=as_of)
        .annotate(years=by_now)
        .filter(years__gte=1)
        .filter(~Exists(spoken.filter(years__gte=OuterRef("years"))))
    )


def sent(step: Step, by: date, *, unless: Collection[AnswerChoice] = ()) -> QuerySet[Reminder]:
    """Of a due date: its reminder at a step, where it went out by a day and no answer of some kinds came since.

    The letter is asked for by its key, for each reminder: by its state it would be asked for among all letters.
    """
    letters = Letter.objects.filter(pk=OuterRef("letter"), state=LetterState.SENT, planned_on__lte=by)
    if unless:
        letters = letters.filter(~_answered(unless))
    return Reminder.objects.filter(Exists(letters), step=step, **OF_INTERVAL)


def _answered(choices: Collection[AnswerChoice]) -> Exists:
    """Of a reminder's letter: the piece's owner answered so after it went out, and no "not now" came after."""
    answers = Answer.objects.filter(piece=OuterRef(OuterRef("piece")), owner=OuterRef(OuterRef("piece__owner")))
    taken_back = Answer.objects.filter(
        piece=OuterRef("piece"), owner=OuterRef("owner"), pk__gt=OuterRef("pk"), choice=AnswerChoice.NOT_NOW
    )
    since = {"said_on__gte": OuterRef("planned_on"), "recorded_at__gt": OuterRef("sent_at")}
    return Exists(answers.filter(~Exists(taken_back), choice__in=choices, **since))


def _as_number(day: "str | ExpressionWrapper[Any]") -> Combinable:
    """A date as a number such as 20261125."""
    return ExtractYear(day) * 10_000 + ExtractMonth(day) * 100 + ExtractDay(day)


def _whole_years(by: Combinable, since: "str | ExpressionWrapper[Any]") -> "ExpressionWrapper[Any]":
    # PostgreSQL's parts of a date are no integers, and their quotient would be no whole number of years.
    days = Cast(by - _as_number(since), IntegerField())
    return ExpressionWrapper(days / 10_000, output_field=IntegerField())
