"""Reminders of the weeks to come, by the day on which each comes up: counted by the database, listed for one day.

What an owner's pause, their holidays and their other pieces do to that day is for the round of that day to decide: an
owner's reminders travel together, so that there will be fewer letters than reminders.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import NamedTuple

from django.db.models import (
    Case,
    Count,
    DateTimeField,
    Exists,
    ExpressionWrapper,
    F,
    Min,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    When,
)
from django.db.models.functions import ExtractDay, ExtractMonth, Greatest, TruncDate

from service_center.book.rules import ServiceKind
from service_center.intervals.models import DueDate
from service_center.intervals.rules import add_months
from service_center.letters.models import Answer, CountedAhead, PlannedInvitation, Reminder
from service_center.letters.queries.coming import (
    ALIVE,
    OF_INTERVAL,
    SETTLES_NUDGE,
    may_be_written_to,
    not_absorbed,
    not_invited,
    room_to_work,
    sent,
)
from service_center.letters.rules.steps import HOUSE_DAYS, StepDays
from service_center.letters.rules.words import AnswerChoice, LetterState, Step

SHOWN = 200
MONTHS_A_YEAR = 12
# Above this a page does not count itself; what the hourly task counted holds until the next day's.
SLOW_SECONDS = 0.2
KEPT_FOR = timedelta(hours=26)
LONG_AGO = date(1900, 1, 1)
# Of one day more than this are not even looked at: what is shown are some of very many then.
LOOKED_AT = 20_000
# A letter that left later still is not looked for on a day's page: it would be one among all that ever went out.
LATE_AT_MOST = timedelta(days=42)


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
    """How many reminders come up on each day from the first to the last, by kind and step. Eight statements, and seven
    where owners asked something back."""
    counts: Counter[tuple[date, ServiceKind, Step]] = Counter()
    with room_to_work():
        asked_back = _asked_back_until(first)
        for stream in _streams(first, last):
            grouped = stream.rows.order_by().values_list(*stream.columns).annotate(n=Count("pk"))
            for *columns, number in grouped:
                day = stream.day_of(*columns)
                if first <= day <= last:
                    counts[day, stream.kind, stream.step] += number
        for one in _of_asked_back(asked_back, first, last) if asked_back else ():
            for day, number in ((one.day, -1), (max(one.day, asked_back[one.piece]), 1)):
                if first <= day <= last:
                    counts[day, ServiceKind(one.kind), one.step] += number
    return +counts


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
    """The reminders that come up on some days, by day and serial: the first of them. Nineteen statements at most, and
    some more on PostgreSQL for room to work."""
    with room_to_work():
        found = sorted(_found_ahead(first, last))[:SHOWN]
    dues = DueDate.objects.select_related("piece__owner", "piece__model").in_bulk([one.due for one in found])
    return [Ahead(dues[one.due], one.step, one.day) for one in found if one.due in dues]


class _Found(NamedTuple):
    """A reminder to come, before its due date is read: the keys of hundreds are looked through for one page."""

    day: date
    serial: str
    step: Step
    due: int
    piece: int
    kind: str


def _found_ahead(first: date, last: date) -> Iterator[_Found]:
    for stream in _streams(first, last, few=True):
        rows = stream.rows.filter(~Exists(_keeping(first).filter(piece=OuterRef("piece"))))
        yield from (one for one in _found(stream, rows, at_most=LOOKED_AT) if first <= one.day <= last)
    if until := {piece: day for piece, day in _asked_back_until(first).items() if day <= last}:
        for one in _of_asked_back(until, first, last):
            day = max(one.day, until[one.piece])
            if first <= day <= last:
                yield one._replace(day=day)


def _found(stream: "_Stream", rows: QuerySet[DueDate], *, at_most: int | None = None) -> Iterator[_Found]:
    # In no order: sorted by a key, a database would go through all due dates until it had enough.
    found = rows.order_by().values_list("pk", "piece_id", "piece__serial", *stream.columns)
    for due, piece, serial, *columns in found[:at_most]:
        yield _Found(stream.day_of(*columns), serial, stream.step, due, piece, stream.kind)


def _keeping(first: date) -> QuerySet[Answer]:
    """Owners' latest words about pieces of theirs that keep letters back until a day which is not before `first`."""
    later = Answer.objects.filter(piece=OuterRef("piece"), owner=OuterRef("owner")).filter(
        Q(said_on__gt=OuterRef("said_on")) | Q(said_on=OuterRef("said_on"), pk__gt=OuterRef("pk"))
    )
    # A booked visit keeps them back on its own day too (rules.steps).
    keeps = Q(choice=AnswerChoice.NOT_NOW, day__gte=first) | Q(
        choice=AnswerChoice.BOOKED, day__gte=first - timedelta(days=1)
    )
    return Answer.objects.filter(keeps, ~Exists(later), owner=F("piece__owner"))


def _asked_back_until(first: date) -> dict[int, date]:
    """By piece the day until which its owner keeps letters back. One statement."""
    return {
        piece: day + timedelta(days=choice == AnswerChoice.BOOKED)
        for piece, choice, day in _keeping(first).values_list("piece_id", "choice", "day")
        if piece is not None and day is not None
    }


def _of_asked_back(until: Mapping[int, date], first: date, last: date) -> Iterator[_Found]:
    """What comes up of these pieces by the last day, on the days on which it would but for their owners' word. Of a
    yearly letter only the days from `first` on are known here."""
    for stream in _streams(first, last, since=LONG_AGO):
        yield from _found(stream, stream.rows.filter(piece__one_of=set(until)))


def _streams(
    first: date, last: date, days: StepDays = HOUSE_DAYS, *, since: date | None = None, few: bool = False
) -> list[_Stream]:
    """Each with the rows whose day lies between the two; `since` stands for the first in all but yearly letters.

    `few`: of so few days that what went out before them is read first, with a statement each.
    """
    begin = since or first
    due = DueDate.objects.filter(may_be_written_to(), starts_on__isnull=False)
    overhauls, checks = due.filter(kind=ServiceKind.OVERHAUL), due.filter(kind=ServiceKind.TIGHTNESS)
    checks = not_absorbed(checks, first, days)
    before_due = timedelta(days=days.invite_before_due)
    plan = _plans_that_hold(days)
    by_due = Q(due_on__gte=begin + before_due) | Q(opens_on__gte=begin)
    # Nothing opens after it is due: said once more, so that one stretch of an index is looked through.
    by_due &= Q(due_on__gte=begin, due_on__lte=last + before_due, opens_on__lte=last)
    planned = PlannedInvitation.objects.filter(invite_on__range=(begin, last)).values("piece")
    return [
        _Stream(
            ServiceKind.OVERHAUL, Step.INVITATION, not_invited(overhauls.filter(by_due, ~Exists(plan), owed_since=None)),
            ("opens_on", "due_on"), lambda opens_on, due_on: max(opens_on, due_on - before_due),
        ),
        _Stream(
            ServiceKind.OVERHAUL, Step.INVITATION,
            not_invited(
                overhauls.annotate(invite_on=Subquery(plan.values("invite_on")[:1])).filter(
                    piece__in=planned, invite_on__range=(begin, last), owed_since=None
                )
            ),
            ("invite_on",), lambda invite_on: invite_on,
        ),
        _Stream(
            ServiceKind.TIGHTNESS, Step.INVITATION, not_invited(checks.filter(opens_on__range=(begin, last))),
            ("opens_on",), lambda opens_on: opens_on,
        ),
        *(_nudges(rows, kind, begin, last, first, days, few=few) for rows, kind in (
            (overhauls, ServiceKind.OVERHAUL), (checks, ServiceKind.TIGHTNESS),
        )),
        _last_letters(overhauls, begin, last, first, days, few=few),
        _yearly(checks, first, last, few=few),
    ]  # fmt: skip


def _plans_that_hold(days: StepDays) -> QuerySet[PlannedInvitation]:
    """Of a due date: its planned day, where that is one still (rules.steps)."""
    caught_up = ExpressionWrapper(F("planned_at") + timedelta(days=days.catch_up), output_field=DateTimeField())
    in_window = Q(invite_on__lte=OuterRef("closes_on")) | Q(
        planned_at__gte=OuterRef("closes_on"), invite_on__lte=caught_up
    )
    return PlannedInvitation.objects.filter(
        in_window, piece=OuterRef("piece"), starts_on=OuterRef("starts_on"), invite_on__gte=OuterRef("opens_on")
    )


def _day_out(today: date) -> Case:
    """Of a reminder whose letter was sent: the day it went out, as the rounds take it (rules.steps, `day_out`)."""
    sent_on = TruncDate("letter__sent_at")
    late = Q(letter__sent_at__lt=datetime.combine(today, time(0), UTC))
    return Case(When(late, then=Greatest(F("letter__planned_on"), sent_on)), default=F("letter__planned_on"))


def _nudges(
    rows: QuerySet[DueDate], kind: ServiceKind, first: date, last: date, today: date, days: StepDays, *, few: bool
) -> _Stream:
    after = timedelta(days=days.nudge_after)
    out = sent(Step.INVITATION, last - after, unless=SETTLES_NUDGE).values_list(_day_out(today))[:1]
    followed = Reminder.objects.filter(step__in=[Step.NUDGE, Step.YEARLY], **OF_INTERVAL)
    found = rows.filter(~Exists(followed)).annotate(out=Subquery(out)).filter(out__range=(first - after, last - after))
    if few:
        found = found.filter(_went_out(kind, Step.INVITATION, first - after, last - after, today))
    return _Stream(kind, Step.NUDGE, found, ("out",), lambda out: out + after)


def _went_out(kind: ServiceKind, step: Step, first: date, last: date, today: date) -> Q:
    """Of a due date: a reminder of its piece went out on some days. One statement, so that the database has their names
    before it looks through due dates: by itself it would work the day out for each of a whole book."""
    reminders = Reminder.objects.filter(
        letter__state=LetterState.SENT, letter__planned_on__range=(first - LATE_AT_MOST, last), kind=kind, step=step,
        **ALIVE,
    )  # fmt: skip
    out = reminders.annotate(out=_day_out(today)).filter(out__range=(first, last))
    return Q(piece__one_of=set(out.values_list("piece_id", flat=True)))


def _last_letters(
    overhauls: QuerySet[DueDate], first: date, last: date, today: date, days: StepDays, *, few: bool
) -> _Stream:
    after = timedelta(days=days.last_after)
    out = sent(Step.NUDGE, last - after, unless=[AnswerChoice.DONE_ELSEWHERE]).values_list(_day_out(today))[:1]
    followed = Reminder.objects.filter(step=Step.LAST, **OF_INTERVAL)
    found = overhauls.filter(~Exists(followed), closes_on__lte=last).annotate(out=Subquery(out))
    if few:
        nudged = _went_out(ServiceKind.OVERHAUL, Step.NUDGE, first - after, last - after, today)
        found = found.filter(Q(closes_on__gte=first) | nudged)
    found = found.filter(Q(closes_on__gte=first) | Q(out__gte=first - after), out__lte=last - after)
    return _Stream(
        ServiceKind.OVERHAUL, Step.LAST, found, ("closes_on", "out"), lambda closes_on, out: max(closes_on, out + after)
    )


def _yearly(checks: QuerySet[DueDate], first: date, last: date, *, few: bool) -> _Stream:
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
    if few:
        found = found.filter(_of_each_year(first, last))

    def day_of(due_on: date) -> date:
        years = first.year - due_on.year
        day = add_months(due_on, MONTHS_A_YEAR * years)
        return day if day >= first else add_months(due_on, MONTHS_A_YEAR * (years + 1))

    return _Stream(ServiceKind.TIGHTNESS, Step.YEARLY, found, ("due_on",), day_of)


def _of_each_year(first: date, last: date) -> Q:
    """Of a check: it was due on the same days of an earlier year, each year a stretch of an index. One statement."""
    oldest = DueDate.objects.filter(kind=ServiceKind.TIGHTNESS).aggregate(on=Min("due_on"))["on"] or first
    within = Q(pk=None)
    for years in range(1, first.year - oldest.year + 2):
        begin, end = (add_months(day, -MONTHS_A_YEAR * years) for day in (first, last))
        within |= Q(due_on__range=(begin, end + timedelta(days=1)))  # the 29th of February is among the 28th
    return within
