"""Reminders of the weeks to come, by the day on which each comes up: counted by the database, listed for one day.

What an owner's pause, their holidays and their other pieces do to that day is for the round of that day to decide: an
owner's reminders travel together, so that there will be fewer letters than reminders.
"""

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import ExtractDay, ExtractMonth

from service_center.book.rules import ServiceKind
from service_center.intervals.models import DueDate
from service_center.intervals.rules import add_months
from service_center.letters.models import CountedAhead, PlannedInvitation, Reminder
from service_center.letters.queries.coming import (
    OF_INTERVAL,
    SETTLES_NUDGE,
    may_be_written_to,
    not_absorbed,
    not_invited,
    room_to_work,
    sent,
)
from service_center.letters.rules.steps import HOUSE_DAYS, StepDays
from service_center.letters.rules.words import AnswerChoice, Step

SHOWN = 200
MONTHS_A_YEAR = 12
# Above this a page does not count itself; what the hourly task counted holds until the next day's.
SLOW_SECONDS = 1.0
KEPT_FOR = timedelta(hours=26)


@dataclass(frozen=True, slots=True)
class Ahead:
    """One reminder to come: of which due date, at which step, on which day it comes up."""

    due: DueDate
    step: Step
    day: date


@dataclass(frozen=True, slots=True)
class _Stream:
    """Due dates with one step ahead; `day_of` works the day out from the named columns."""

    kind: ServiceKind
    step: Step
    rows: QuerySet[DueDate]
    columns: tuple[str, ...]
    day_of: Callable[..., date]


def counts_ahead(first: date, last: date) -> Counter[tuple[date, ServiceKind, Step]]:
    """How many reminders come up on each day from the first to the last, by kind and step. Six statements."""
    counts: Counter[tuple[date, ServiceKind, Step]] = Counter()
    with room_to_work():
        for stream in _streams(first, last):
            grouped = stream.rows.order_by().values_list(*stream.columns).annotate(n=Count("pk"))
            for *columns, number in grouped:
                day = stream.day_of(*columns)
                if first <= day <= last:
                    counts[day, stream.kind, stream.step] += number
    return counts


@dataclass(frozen=True, slots=True)
class ByDay:
    """How many reminders come up on each day. `made_at`: when that was counted, None for just now."""

    counts: dict[date, int]
    made_at: datetime | None


def by_day(first: date, last: date, *, now: datetime) -> ByDay:
    """The counts of some days. Of a book that takes long to count, those that the hourly task kept. One statement, then."""
    kept = CountedAhead.objects.filter(made_at__gt=now - KEPT_FOR, first__lte=first, last__gte=last)
    latest = kept.order_by("-pk").first()
    if latest and latest.seconds > SLOW_SECONDS:
        days = {date.fromisoformat(day): number for day, number in latest.counts.items()}
        return ByDay({day: number for day, number in days.items() if first <= day <= last}, latest.made_at)
    return ByDay(_summed(counts_ahead(first, last)), None)


def _summed(counts: Counter[tuple[date, ServiceKind, Step]]) -> dict[date, int]:
    found: Counter[date] = Counter()
    for (day, _kind, _step), number in counts.items():
        found[day] += number
    return dict(found)


def reminders_ahead(first: date, last: date) -> list[Ahead]:
    """The reminders that come up on some days, by day and serial: the first of them. Six statements."""
    return sorted(_listed(first, last), key=lambda one: (one.day, one.due.piece.serial, one.step))[:SHOWN]


def _listed(first: date, last: date) -> Iterator[Ahead]:
    for stream in _streams(first, last):
        for due in stream.rows.select_related("piece__owner", "piece__model").order_by("pk")[: SHOWN * 2]:
            day = stream.day_of(*(getattr(due, column) for column in stream.columns))
            if first <= day <= last:
                yield Ahead(due, stream.step, day)


def _streams(first: date, last: date, days: StepDays = HOUSE_DAYS) -> list[_Stream]:
    due = DueDate.objects.filter(may_be_written_to(), starts_on__isnull=False)
    overhauls, checks = due.filter(kind=ServiceKind.OVERHAUL), due.filter(kind=ServiceKind.TIGHTNESS)
    checks = not_absorbed(checks, first, days)
    before_due = timedelta(days=days.invite_before_due)
    plan = PlannedInvitation.objects.filter(piece=OuterRef("piece"), starts_on=OuterRef("starts_on"))
    by_due = Q(due_on__range=(first + before_due, last + before_due)) | Q(opens_on__range=(first, last))
    return [
        _Stream(
            ServiceKind.OVERHAUL, Step.INVITATION, not_invited(overhauls.filter(by_due, ~Exists(plan), owed_since=None)),
            ("opens_on", "due_on"), lambda opens_on, due_on: max(opens_on, due_on - before_due),
        ),
        _Stream(
            ServiceKind.OVERHAUL, Step.INVITATION,
            not_invited(
                overhauls.annotate(invite_on=Subquery(plan.values("invite_on")[:1])).filter(
                    Q(invite_on__range=(first, last)) | Q(opens_on__range=(first, last)), invite_on__isnull=False,
                    owed_since=None,
                )
            ),
            ("opens_on", "invite_on"), max,
        ),
        _Stream(
            ServiceKind.TIGHTNESS, Step.INVITATION, not_invited(checks.filter(opens_on__range=(first, last))),
            ("opens_on",), lambda opens_on: opens_on,
        ),
        *(_nudges(rows, kind, first, last, days) for rows, kind in (
            (overhauls, ServiceKind.OVERHAUL), (checks, ServiceKind.TIGHTNESS),
        )),
        _last_letters(overhauls, first, last, days),
        _yearly(checks, first, last),
    ]  # fmt: skip


def _nudges(rows: QuerySet[DueDate], kind: ServiceKind, first: date, last: date, days: StepDays) -> _Stream:
    after = timedelta(days=days.nudge_after)
    out = sent(Step.INVITATION, last - after, unless=SETTLES_NUDGE).values("letter__planned_on")[:1]
    followed = Reminder.objects.filter(step__in=[Step.NUDGE, Step.YEARLY], **OF_INTERVAL)
    found = rows.filter(~Exists(followed)).annotate(out=Subquery(out)).filter(out__range=(first - after, last - after))
    return _Stream(kind, Step.NUDGE, found, ("out",), lambda out: out + after)


def _last_letters(overhauls: QuerySet[DueDate], first: date, last: date, days: StepDays) -> _Stream:
    after = timedelta(days=days.last_after)
    out = sent(Step.NUDGE, last - after, unless=[AnswerChoice.DONE_ELSEWHERE]).values("letter__planned_on")[:1]
    followed = Reminder.objects.filter(step=Step.LAST, **OF_INTERVAL)
    found = overhauls.filter(~Exists(followed), closes_on__lte=last).annotate(out=Subquery(out))
    found = found.filter(Q(closes_on__gte=first) | Q(out__gte=first - after), out__lte=last - after)
    return _Stream(
        ServiceKind.OVERHAUL, Step.LAST, found, ("closes_on", "out"), lambda closes_on, out: max(closes_on, out + after)
    )


def _yearly(checks: QuerySet[DueDate], first: date, last: date) -> _Stream:
    """The days of a year between two dates less than a year apart, as numbers such as 1125; 29 February among the 28th."""
    on = ExtractMonth("due_on") * 100 + ExtractDay("due_on")
    begins, ends = (day.month * 100 + day.day for day in (first, last))
    ends += ends == 228
    within = Q(on__range=(begins, ends)) if begins <= ends else Q(on__gte=begins) | Q(on__lte=ends)
    spoken = Reminder.objects.filter(**OF_INTERVAL, letter__planned_on__gte=first)
    found = (
        checks.filter(
            Exists(sent(Step.INVITATION, last)), ~Exists(spoken), due_on__lte=add_months(last, -MONTHS_A_YEAR)
        )
        .annotate(on=on)
        .filter(within)
    )

    def day_of(due_on: date) -> date:
        years = first.year - due_on.year
        day = add_months(due_on, MONTHS_A_YEAR * years)
        return day if day >= first else add_months(due_on, MONTHS_A_YEAR * (years + 1))

    return _Stream(ServiceKind.TIGHTNESS, Step.YEARLY, found, ("due_on",), day_of)
