"""Reading a week: what is to be planned, and what is planned. Statements do not grow with benches or orders."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.utils import timezone

from service_center.planning.rules.week_plan.stretches import Step as StepLeft
from service_center.planning.rules.week_plan.stretches import Stretch, days_of, stretches_of
from service_center.planning.rules.week_plan.week import Bench, Order, Place, Task, Week
from service_center.planning.rules.weeks import WEEK, monday_of
from service_center.planning.week_plan.models import PlanLine, WeekPlan
from service_center.workshop.calendars.models import Watchmaker
from service_center.workshop.calendars.queries import BenchMinutes, minutes_by_day
from service_center.workshop.orders.queries.open_orders import OpenOrder, open_orders
from service_center.workshop.orders.rules.operations import AT_RECEPTION, Operation
from service_center.workshop.orders.rules.steps import Step

DAYS_OF_A_WEEK = 7
# Assembly through casing: who begins it should finish it (common practice).
ONE_KEEPS = frozenset({
    Operation.ASSEMBLY, Operation.REGULATION, Operation.DIAL_AND_HANDS, Operation.CELL, Operation.CASING,
})  # fmt: skip
# Not in the workshop yet, or waiting for the owner's word.
NOT_YET = (Step.LOGGED, Step.ESTIMATED)


@dataclass(frozen=True, slots=True)
class ToPlan:
    """A week as the rules take it; the stretch behind each task; how many orders are not here yet, or wait for a word."""

    week: Week | None
    stretches: dict[int, Stretch]
    minutes: dict[int, int]
    not_yet: int


def week_to_plan(plan: WeekPlan, as_of: date) -> ToPlan:
    """The benches' days of the week that are left on a day, and the orders' work. Fourteen statements at most.

    Work that earlier weeks' plans hold from that day on counts as done by then.
    """
    people = minutes_by_day(plan.monday, DAYS_OF_A_WEEK)
    orders = open_orders()
    done = _done_in(plan, as_of)
    benches = [_bench(one, plan.monday, as_of, done) for one in people]
    days = tuple(sorted({day for bench in benches for day, minutes in bench.minutes.items() if minutes}))
    not_yet = sum(order.step in NOT_YET for order in orders)
    if not days:
        return ToPlan(None, {}, {}, not_yet)
    reading = _Reading(plan, as_of, benches, days[0])
    found = [order for one in orders if one.step not in NOT_YET and (order := reading.order(one))]
    return ToPlan(Week(days, tuple(benches), tuple(found)), reading.stretches, reading.minutes, not_yet)


def monday_at_hand(today: date) -> date:
    """The Monday of the week to look at: today's, or the next one's where nobody works any more in this one.

    Eight statements at most, sixteen where nobody does.
    """
    monday = monday_of(today)
    left = DAYS_OF_A_WEEK - today.weekday()
    if _somebody_works(today, left) or not _somebody_works(monday + WEEK, DAYS_OF_A_WEEK):
        return monday
    return monday + WEEK


def _somebody_works(first: date, days: int) -> bool:
    return any(any(one.minutes) for one in minutes_by_day(first, days))


def _bench(one: BenchMinutes, monday: date, as_of: date, done: dict[Place, int]) -> Bench:
    minutes = {}
    for number, there in enumerate(one.minutes):
        day = monday + timedelta(days=number)
        if day >= as_of:
            minutes[day] = max(0, there - done.get(Place(one.id, day), 0))
    return Bench(one.id, frozenset(one.skills), minutes)


def _done_in(plan: WeekPlan, as_of: date) -> dict[Place, int]:
    """Minutes of the plan's lines from that day on that are done already. One statement."""
    rows = PlanLine.objects.filter(plan=plan, day__gte=as_of, against="", operation__finished_at__isnull=False)
    found: dict[Place, int] = defaultdict(int)
    for watchmaker, day, minutes in rows.values_list("watchmaker", "day", "minutes"):
        found[Place(watchmaker, day)] += minutes
    return found


class _Reading:
    """Turns open orders into the rules' orders, with what the desk fixed and what earlier plans hold."""

    def __init__(self, plan: WeekPlan, as_of: date, benches: Iterable[Bench], first_day: date) -> None:
        self.as_of, self.first_day = as_of, first_day
        self.stretches: dict[int, Stretch] = {}
        self.minutes: dict[int, int] = {}
        self._benches = list(benches)
        self._accounts = dict(Watchmaker.objects.exclude(account=None).values_list("account", "pk"))
        self._fixed: dict[int, list[Place]] = defaultdict(list)
        lines = PlanLine.objects.filter(plan=plan, fixed=True, operation__finished_at=None, day__gte=as_of)
        for operation, watchmaker, day in lines.order_by("part", "pk").values_list("operation", "watchmaker", "day"):
            self._fixed[operation].append(Place(watchmaker, day))
        self._earlier: dict[int, list[tuple[date, int, int]]] = defaultdict(list)
        before = PlanLine.objects.filter(
            plan__monday__lte=plan.monday, against="", operation__finished_at=None, operation__order__closed_on=None
        )
        for operation, monday, day, minutes, part in before.values_list(
            "operation", "plan__monday", "day", "minutes", "part"
        ):
            # A past day's line of an operation that is not finished was not done; part of one was, as far as is known.
            if (monday < plan.monday and day >= as_of) or (part and day < as_of):
                self._earlier[operation].append((day, minutes, part))

    def order(self, one: OpenOrder) -> Order | None:
        """An order with the stretches that are left of it; None where nothing is."""
        released = max(self.first_day, self.as_of)
        if one.finished_at:
            finished = timezone.localtime(one.finished_at).date()
            released = max(released, finished + timedelta(days=days_of(one.waits_hours)))
        steps = []
        for left in one.left:
            minutes = left.time.minutes
            for day, planned, part in self._earlier.get(left.pk, []):
                minutes = minutes - planned if part else 0
                after = day + timedelta(days=1 if minutes > 0 else max(1, days_of(left.time.wait_hours)))
                released = max(released, after)
            if minutes <= 0 and left.pk in self._earlier:
                continue
            self.minutes[left.pk] = minutes
            steps.append(
                StepLeft(
                    key=left.pk,
                    minutes=minutes,
                    wait_hours=left.time.wait_hours,
                    keeps_bench=left.operation in ONE_KEEPS,
                    alone=left.operation in AT_RECEPTION,
                    fixed=tuple(self._fixed.get(left.pk, ())),
                )
            )
        if one.asks_owner and one.step in (Step.RECEIVED, Step.DIAGNOSED):
            steps = [step for step in steps if step.alone]  # the rest waits for the owner's word
        if not steps:
            return None
        return self._with_tasks(one, released, steps)

    def _with_tasks(self, one: OpenOrder, released: date, steps: list[StepLeft]) -> Order:
        able = [bench for bench in self._benches if one.complexity.value in bench.skills]
        longest = max((minutes for bench in able for minutes in bench.minutes.values()), default=0)
        tasks = []
        for stretch in stretches_of(steps, longest):
            key = len(self.stretches)
            self.stretches[key] = stretch
            tasks.append(Task(key, stretch.minutes, stretch.wait_days, stretch.keeps_bench, stretch.fixed))
        bench = self._accounts.get(one.bench) if one.bench else None
        return Order(one.pk, one.complexity.value, released, one.promised_on, tuple(tasks), bench)


@dataclass(frozen=True, slots=True)
class Row:
    """One stretch of a kept plan as it is read: operations of one order that follow each other at one place."""

    lines: tuple[int, ...]
    number: str
    piece: int
    serial: str
    promised_on: date | None
    operations: tuple[Operation, ...]
    minutes: int
    part: int
    parts: int
    watchmaker: int
    day: date
    turn: int
    fixed: bool
    done: bool
    late: bool
    against: str

    @property
    def first_line(self) -> int:
        return self.lines[0]


def rows_of(lines: Iterable[PlanLine]) -> list[Row]:
    """Lines in the order of bench, day and turn as stretches."""
    found: list[Row] = []
    for line in lines:
        row = _row(line)
        last = found[-1] if found else None
        if last and not row.parts and _one_stretch(last, row):
            found[-1] = replace(
                last, lines=last.lines + row.lines, operations=last.operations + row.operations,
                minutes=last.minutes + row.minutes,
            )  # fmt: skip
        else:
            found.append(row)
    return found


def _one_stretch(last: Row, row: Row) -> bool:
    same = ("number", "watchmaker", "day", "turn", "fixed", "done", "against", "parts")
    return all(getattr(last, name) == getattr(row, name) for name in same)


def _row(line: PlanLine) -> Row:
    order = line.operation.order
    return Row(
        lines=(line.pk,),
        number=order.number,
        piece=order.piece_id,
        serial=order.piece.serial,
        promised_on=order.promised_on,
        operations=(Operation(line.operation.operation),),
        minutes=line.minutes,
        part=line.part,
        parts=line.parts,
        watchmaker=line.watchmaker_id,
        day=line.day,
        turn=line.turn,
        fixed=line.fixed,
        done=line.operation.finished_at is not None,
        late=order.promised_on is not None and line.day > order.promised_on,
        against=line.against,
    )


def lines_in_order(plan: WeekPlan) -> list[PlanLine]:
    """A plan's lines, those that could not be kept too, by bench, day and turn. One statement."""
    return list(
        PlanLine.objects.filter(plan=plan)
        .select_related("operation__order__piece")
        .order_by("watchmaker__name", "watchmaker", "day", "turn", "operation__position", "part")
    )


def queue_of(account: int, first: date, days: int = DAYS_OF_A_WEEK) -> list[Row]:
    """What the plan gives to whoever signs in with an account, from a day on, in their own order. One statement."""
    lines = (
        PlanLine.objects.filter(
            watchmaker__account=account, day__gte=first, day__lt=first + timedelta(days=days), against=""
        )
        .exclude(operation__order__closed_on__isnull=False)
        .select_related("operation__order__piece")
        .order_by("day", "turn", "operation__position", "part")
    )
    return rows_of(lines)
