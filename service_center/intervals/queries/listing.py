"""The stored due dates as the desk reads them: filtered, a page at a time, counted by state."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.db.models import Q, QuerySet

from service_center.book.models import Boutique
from service_center.book.rules import ServiceKind, Tightness, Use
from service_center.intervals.models import DueDate
from service_center.intervals.queries.facts import as_rule, house_rules
from service_center.intervals.rules import (
    Due,
    Owed,
    Start,
    StartFact,
    State,
    add_months,
    because,
    dates_by_rule,
    default_for,
    evidence_from_record,
    owed_because,
    state_on,
)

AT_MOST = 10_000  # counts stop here: "more than 10,000" says enough, and costs the same at any size
PAGE = 50


@dataclass(frozen=True, slots=True)
class DueFilters:
    """What to list. None: any. `month` is the first day of the month in which it is due; boutiques by their codes."""

    state: State | None = None
    kind: ServiceKind | None = None
    boutique: str | None = None
    month: date | None = None


@dataclass(frozen=True, slots=True)
class DueRow:
    """One stored due date, its state on the day asked for, and why."""

    stored: DueDate
    due: Due
    state: State
    why: str


@dataclass(frozen=True, slots=True)
class DuePage:
    """Some rows, and the cursor of the next page where there are more."""

    rows: list[DueRow]
    following: str


def due_page(filters: DueFilters, as_of: date, *, after: str = "", limit: int = PAGE) -> DuePage:
    """Rows by the day due; those without one come last. At most five statements, whichever page it is.

    `after` is the cursor that the page before gave: the last row's day and key. ValueError for any other text.
    """
    wanted = _filtered(filters, as_of)
    day, key = _read_cursor(after)
    # First which rows, off an index; then what stands in them, so that no plan reads a table to find a page.
    keys: list[int] = []
    if day or not after:
        keys = list(_dated(wanted, day, key).values_list("pk", flat=True)[: limit + 1])
        key = 0
    if len(keys) <= limit and filters.month is None:
        undated = wanted.filter(due_on__isnull=True, pk__gt=key).order_by("pk")
        keys += undated.values_list("pk", flat=True)[: limit + 1 - len(keys)]
    rows = _in_order(keys[:limit])
    following = _cursor(rows[-1]) if len(keys) > limit else ""
    return DuePage([_row(row, as_of) for row in rows], following)


def _in_order(keys: list[int]) -> list[DueDate]:
    related = ("piece__model", "piece__owner", "boutique", "rule", "start_entry", "owed_entry")
    rows = DueDate.objects.select_related(*related).in_bulk(keys)
    return [rows[key] for key in keys if key in rows]


def all_due(filters: DueFilters, as_of: date) -> Iterator[DueRow]:
    """Every row of a filter, a thousand at a time. Five statements a thousand."""
    after = ""
    while True:
        page = due_page(filters, as_of, after=after, limit=1_000)
        yield from page.rows
        after = page.following
        if not after:
            return


def counts_by_state(filters: DueFilters, as_of: date, *, states: Iterable[State] = State) -> dict[State, int]:
    """How many rows stand in each of some states, counted no further than AT_MOST + 1.

    One statement a state, two more for `due` and one more for `in_window`.
    """
    return {state: _counted(replace(filters, state=state), as_of)[: AT_MOST + 1].count() for state in states}


def in_state(state: State, as_of: date) -> Q:
    """The stored due dates in one state on a day; a test holds it to `rules.state_on`."""
    held, startless, owed = ~Q(held=""), Q(due_on__isnull=True), Q(owed_since__isnull=False)
    running = ~held & ~startless & ~owed
    return {
        State.HELD: held,
        State.NO_START: ~held & startless,
        State.OWED: ~held & ~startless & owed,
        # Nothing opens after it is due, or is due after it closes: the index by the day due can be told so.
        State.NOT_YET: running & Q(opens_on__gt=as_of, due_on__gt=as_of),
        State.IN_WINDOW: running & Q(opens_on__lte=as_of, due_on__gt=as_of),
        State.DUE: running & Q(due_on__lte=as_of, closes_on__gt=as_of),
        State.OVERDUE: running & Q(closes_on__lte=as_of, due_on__lte=as_of),
    }[state]


def stored_due(row: DueDate) -> Due:
    """A stored due date as the rules gave it. No statement where rule, entries and piece were read with it."""
    kind = ServiceKind(row.kind)
    use = Use(row.piece.use) if row.piece.use else None
    rule = as_rule(row.rule) if row.rule else default_for(kind, use)
    start = None
    if row.starts_on:
        start = Start(row.starts_on, StartFact(row.start_fact), row.start_entry.code if row.start_entry else None)
    owed = None
    if row.owed_since and row.owed_entry:
        result = Tightness(row.owed_entry.tightness) if row.owed_entry.tightness else Tightness.NOT_TESTED
        owed = Owed(row.owed_since, row.owed_entry.code, owed_because(result))
    alone = dates_by_rule(start.on, rule) if start else None
    evidence = evidence_from_record(row.evidence) if row.evidence else None
    return Due(kind, start, rule, row.opens_on, row.due_on, row.closes_on, owed, row.held, alone, evidence)


def _counted(filters: DueFilters, as_of: date) -> QuerySet[DueDate]:
    # Asked for in the order of an index, rows are read from it and no further than they are counted; without an order
    # the database may go through the table to find the first of them.
    found = _filtered(filters, as_of)
    if filters.state in {State.HELD, State.NO_START}:
        return found.order_by("pk")
    if filters.state is State.DUE:
        # Backwards from today: of those due long ago most are overdue, and would be read for nothing.
        return found.order_by("-due_on", "-pk")
    return found.order_by("due_on", "pk")


def _filtered(filters: DueFilters, as_of: date) -> QuerySet[DueDate]:
    found = DueDate.objects.all()
    if filters.kind:
        found = found.filter(kind=filters.kind)
    if filters.boutique is not None:
        # Its key asked for apart, and not joined: then the index by boutique and day gives the page.
        found = found.filter(boutique=Boutique.objects.filter(code=filters.boutique).values("pk")[:1])
    if filters.month:
        found = found.filter(due_on__gte=filters.month, due_on__lt=add_months(filters.month, 1))
    if filters.state:
        found = found.filter(in_state(filters.state, as_of))
    if filters.state is State.DUE:
        found = found.filter(due_on__gte=_due_since(as_of))
    elif filters.state is State.IN_WINDOW:
        found = found.filter(due_on__lte=_due_until(as_of))
    return found


def _due_since(as_of: date) -> date:
    """The earliest day that something not overdue yet can have been due. Two statements.

    Most of a whole maker's pieces are long overdue; without this day they would all be passed by to find those that
    are due. It follows from the longest time that a rule leaves between due and closes, and from the rows that a trend
    moved forward.
    """
    longest = max(rule.closes - rule.due for rule in house_rules())
    by_rule = add_months(as_of, -min(longest, (as_of.year - 2) * 12)) - timedelta(days=31)
    moved = DueDate.objects.filter(evidence__isnull=False, due_on__lt=by_rule, closes_on__gt=as_of).order_by("due_on")
    return moved.values_list("due_on", flat=True).first() or by_rule


def _due_until(as_of: date) -> date:
    """The latest day on which something open can be due; a trend only brings it nearer. One statement."""
    longest = max(rule.due - rule.opens for rule in house_rules())
    return add_months(as_of, min(longest, (date.max.year - 1 - as_of.year) * 12)) + timedelta(days=31)


def _dated(wanted: QuerySet[DueDate], day: date | None, key: int) -> QuerySet[DueDate]:
    dated = wanted.filter(due_on__isnull=False).order_by("due_on", "pk")
    if day:
        # The one spelling of "after this row" that both databases read off an index (reliability.md, 0.6).
        dated = dated.filter(Q(due_on__gte=day) & (Q(due_on__gt=day) | Q(pk__gt=key)))
    return dated


def _read_cursor(text: str) -> tuple[date | None, int]:
    if not text:
        return None, 0
    day, _, key = text.partition("~")
    return (date.fromisoformat(day) if day else None), int(key)


def _cursor(row: DueDate) -> str:
    return f"{row.due_on or ''}~{row.pk}"


def _row(row: DueDate, as_of: date) -> DueRow:
    due = stored_due(row)
    return DueRow(row, due, state_on(as_of, due), because(due, as_of).sentence)
