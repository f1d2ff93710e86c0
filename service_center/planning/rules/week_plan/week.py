"""A week at the benches as values: who is there, what is open, and what was decided already."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta


@dataclass(frozen=True, slots=True)
class Place:
    """A watchmaker's bench on a day."""

    watchmaker: int
    day: date


@dataclass(frozen=True, slots=True)
class Bench:
    """One watchmaker: which complexities they may do, and their bench minutes on each day (none: not there)."""

    watchmaker: int
    skills: frozenset[str]
    minutes: Mapping[date, int]

    def __post_init__(self) -> None:
        if any(minutes < 0 for minutes in self.minutes.values()):
            raise ValueError("bench minutes of a day are 0 or more")


@dataclass(frozen=True, slots=True)
class Task:
    """Work that is done in one go at one bench on one day, or left for another week.

    `key` is whoever asks's own. `wait_days` pass after it before the next task, or before the order is ready.
    `keeps_bench`: part of the work that one watchmaker should keep, assembly through casing. `fixed`: the desk's word.
    """

    key: int
    minutes: int
    wait_days: int = 0
    keeps_bench: bool = False
    fixed: Place | None = None

    def __post_init__(self) -> None:
        if self.minutes < 1 or self.wait_days < 0:
            raise ValueError(
                f"minutes are 1 or more and waiting days 0 or more, not {self.minutes} and {self.wait_days}"
            )


@dataclass(frozen=True, slots=True)
class Order:
    """What is left of one order, in the order of the work. `bench`: the watchmaker who has begun what one keeps."""

    key: int
    complexity: str
    released_on: date
    promised_on: date | None
    tasks: tuple[Task, ...]
    bench: int | None = None


@dataclass(frozen=True, slots=True)
class Week:
    """Working days in their order (they may leave days out), benches, and the open orders."""

    days: tuple[date, ...]
    benches: tuple[Bench, ...]
    orders: tuple[Order, ...]

    def __post_init__(self) -> None:
        if not self.days or list(self.days) != sorted(set(self.days)):
            raise ValueError("a week has at least one day, each once and in their order")
        keys = [task.key for order in self.orders for task in order.tasks]
        if len(keys) != len(set(keys)):
            raise ValueError("each task has a key of its own")

    @property
    def next_day(self) -> date:
        """The first working day after the week: the Monday of the next."""
        last = self.days[-1]
        return last + timedelta(days=7 - last.weekday())


def soonest_day(week: Week, order: Order, turn: int) -> date:
    """The first working day for the task at that place in the order, all before it done as soon as can be; after the
    last one, the day on which the order is ready."""
    day = _working_day(week, max(order.released_on, week.days[0]))
    for task in order.tasks[:turn]:
        day += timedelta(days=task.wait_days)
        if task is not order.tasks[-1]:
            day = _working_day(week, day)
    return day


def _working_day(week: Week, day: date) -> date:
    """That day, or the next on which somebody works; after the week that is its Monday, or any day from it on."""
    return next((one for one in week.days if one >= day), max(day, week.next_day))


Plan = Mapping[int, Place]
"""A task's key -> where it is done; what is not in it is left out of the week."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a plan: the task, where, and at which place in that day's work there (from 1)."""

    task: int
    place: Place
    turn: int


def lines_of(week: Week, plan: Plan) -> list[Line]:
    """The plan's lines by watchmaker, day and turn.

    Within a day the earliest promise goes first and an order's tasks follow each other, so that each finds what comes
    before it done: a piece changes benches overnight (see `next_place_allowed`).
    """
    by_place: dict[Place, list[int]] = {}
    for order in in_promise_order(week.orders):
        for task in order.tasks:
            if task.key in plan:
                by_place.setdefault(plan[task.key], []).append(task.key)
    return [
        Line(key, place, turn)
        for place, keys in sorted(by_place.items(), key=lambda row: (row[0].watchmaker, row[0].day))
        for turn, key in enumerate(keys, start=1)
    ]


def in_promise_order(orders: Sequence[Order]) -> list[Order]:
    """Earliest promise first; without one last, and then as they came in."""
    return sorted(orders, key=lambda one: (one.promised_on or date.max, one.key))


def next_place_allowed(before: Task, there: Place, then: Place) -> bool:
    """Whether a task may be done `then` when the one before it is done `there`.

    After a wait, once it is over. Without one, on the same day at the same bench or on a later day anywhere: a piece
    changes benches overnight, so that nobody waits during the day for what another bench has in hand.
    """
    if before.wait_days:
        return then.day >= there.day + timedelta(days=before.wait_days)
    return then.day > there.day or then == there


@dataclass(frozen=True, slots=True)
class Broken:
    """What a plan breaks: the task, and which rule."""

    task: int
    rule: str


def broken_rules(week: Week, plan: Plan) -> list[Broken]:
    """Every rule that a plan breaks, task by task: skills, hours, release, sequence, waits, fixed lines. None for a good one."""
    benches = {bench.watchmaker: bench for bench in week.benches}
    found: list[Broken] = []
    used: dict[Place, int] = {}
    for order in in_promise_order(week.orders):
        before: Task | None = None
        left_out = False
        for task in order.tasks:
            place = plan.get(task.key)
            if task.fixed and place != task.fixed:
                found.append(Broken(task.key, "fixed"))
            if place is None:
                left_out = True
                continue
            bench = benches.get(place.watchmaker)
            if bench is None or order.complexity not in bench.skills:
                found.append(Broken(task.key, "skill"))
            if place.day not in week.days or place.day < order.released_on:
                found.append(Broken(task.key, "day"))
            if left_out or (before and not next_place_allowed(before, plan[before.key], place)):
                found.append(Broken(task.key, "sequence"))
            used[place] = used.get(place, 0) + task.minutes
            if bench and used[place] > bench.minutes.get(place.day, 0):
                found.append(Broken(task.key, "hours"))
            before = task
    return found


@dataclass(frozen=True, slots=True)
class Room:
    """Minutes that are still free at each bench on each day. Changes as work is placed."""

    free: dict[Place, int] = field(default_factory=dict)

    @classmethod
    def of(cls, week: Week, plan: Plan) -> "Room":
        free = {Place(b.watchmaker, day): b.minutes.get(day, 0) for b in week.benches for day in week.days}
        for order in week.orders:
            for task in order.tasks:
                if task.key in plan:
                    free[plan[task.key]] -= task.minutes
        return cls(free)
