"""When a new order would be ready, from the orders in the house and the hours of its benches."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from hashlib import sha256

import numpy as np
from django.core.cache import cache

from service_center.book.rules import Complexity, EntryKind
from service_center.planning.queries.benches import benches_by_skill
from service_center.planning.rules.promising.simulation import quote
from service_center.planning.rules.promising.standing import (
    ANSWERS,
    ON_THE_WAY,
    PACE,
    Work,
    minutes_of_skill,
    ranked_at,
    work_of,
)
from service_center.planning.rules.promising.values import Bench, Order, Quote, Turn
from service_center.workshop.calendars.queries import minutes_by_day, standing_still
from service_center.workshop.orders.queries.learnt import Key, learnt_before
from service_center.workshop.orders.queries.open_orders import OpenOrder, OwnTimes, open_orders, own_times
from service_center.workshop.orders.queries.open_then import open_orders_then, own_times_then
from service_center.workshop.orders.rules.learning import Learnt
from service_center.workshop.orders.rules.operations import Operation, Time, times_for
from service_center.workshop.orders.rules.steps import NEEDED, Step

# How far ahead the benches' days are read.
DAYS = 600
# What is worked out from the same orders and hours is the same for as long as one likes; this only bounds the cache.
KEPT_SECONDS = 600


class NoQuote(StrEnum):
    """Why no day can be worked out."""

    NO_BENCHES = "no_benches"  # the book has neither watchmakers nor hours of skills
    NO_SKILL = "no_skill"  # nobody does such pieces
    AT_THE_COUNTER = "at_the_counter"  # such an order sees no bench
    TOO_FAR = "too_far"  # the benches are full for longer than their days are read


@dataclass(frozen=True, slots=True, eq=False)
class House:
    """The orders in the house on a day, with what is left to do, and the benches' minutes from that day on."""

    as_of: date
    benches: tuple[Bench, ...]
    orders: tuple[Order, ...]
    kinds: Mapping[int, tuple[EntryKind, Complexity]]
    learnt: Mapping[Key, Learnt]
    own: Mapping[tuple[EntryKind, Complexity, Operation], Time]

    def mark(self) -> str:
        """A mark of all that a quote depends on."""
        minutes = [(sorted(one.skills), one.minutes.tobytes()) for one in self.benches]
        return sha256(repr((self.as_of, minutes, self.orders)).encode()).hexdigest()


def house_on(as_of: date) -> House:
    """Orders and benches as a promise needs them. Eighteen statements at most, whatever the number of orders."""
    return _house(as_of, open_orders(), own_times())


def house_then(as_of: date) -> House:
    """The same at the end of a day that is over: its orders by their facts, and what was learnt up to it.

    The minutes of the house's own table are those of that day, too. The benches' hours are those that are written today:
    past days keep theirs, but not who was known then to be away later. Raises NotKnownThenError. Twenty-one statements
    at most.
    """
    return _house(as_of, open_orders_then(as_of), own_times_then(as_of))


def _house(as_of: date, there: Iterable[OpenOrder], own: OwnTimes) -> House:
    learnt = learnt_before(as_of)
    found = [one for one in there if one.opened_on <= as_of and _sees_a_bench(one.kind)]
    orders = [(one, _order(one, as_of, learnt)) for one in found]
    return House(
        as_of,
        tuple(_benches(as_of)),
        tuple(order for _one, order in orders if order),
        {one.pk: (one.kind, one.complexity) for one in found},
        learnt,
        own,
    )


def quote_on(house: House, kind: EntryKind, complexity: Complexity, *, rated: bool, usual_day: date) -> Quote | NoQuote:
    """When a new order would be back at its boutique, or why nobody can say. `rated`: it is tested for tightness.

    `usual_day`: when the house usually has such an order ready, by which it is ranked.
    """
    if not _sees_a_bench(kind):
        return NoQuote.AT_THE_COUNTER
    if not house.benches:
        return NoQuote.NO_BENCHES
    if not any(complexity in one.skills for one in house.benches):
        return NoQuote.NO_SKILL
    times = times_for(kind, complexity, house.own, rated=rated)
    work = work_of((planned, house.learnt.get((kind, complexity, one))) for one, planned in times.items())
    if not work.turns:
        return NoQuote.AT_THE_COUNTER
    new = _on_its_way_back(
        Order(
            key=max((one.key for one in house.orders), default=0) + 1,
            complexity=complexity,
            turns=work.turns,
            free_after=ON_THE_WAY + work.first_waits,
            promised_on=ranked_at(
                usual_day, (one.promised_on for one in house.orders if house.kinds[one.key] == (kind, complexity))
            ),
        )
    )
    key = f"promise:{house.mark()}:{sha256(repr(new).encode()).hexdigest()}"
    found: Quote | None = cache.get(key)
    if found is None:
        found = quote(house.as_of, house.benches, house.orders, new, pace=PACE)
        cache.set(key, found, KEPT_SECONDS)
    return found if found.nine_in_ten_by else NoQuote.TOO_FAR


def _sees_a_bench(kind: EntryKind) -> bool:
    return Step.RECEIVED in NEEDED[kind]


def _on_its_way_back(order: Order) -> Order:
    """The owner fetches it at the boutique, not at the workshop."""
    *before, last = order.turns
    return replace(order, turns=(*before, Turn(last.minutes, last.spread, last.wait_hours + ON_THE_WAY)))


def _order(one: OpenOrder, as_of: date, learnt: Mapping[Key, Learnt]) -> Order | None:
    """What is left of an order at the benches; None where nothing is."""
    work = work_of((left.time, learnt.get((one.kind, one.complexity, left.operation))) for left in one.left)
    if not work.turns:
        return None
    return Order(one.pk, one.complexity, work.turns, _free_after(one, work, as_of), one.promised_on)


def _free_after(one: OpenOrder, work: Work, as_of: date) -> float:
    """Hours from the beginning of the day until a bench can take it: it is on its way, rests, or waits for a word."""
    rests = 0.0
    if one.finished_at and one.waits_hours:
        over = one.finished_at + timedelta(hours=one.waits_hours)
        rests = max(0.0, (over - datetime.combine(as_of, time(), UTC)) / timedelta(hours=1))
    on_its_way = ON_THE_WAY if one.step is Step.LOGGED else 0.0
    is_asked = one.step is Step.ESTIMATED or (one.step is Step.DIAGNOSED and one.asks_owner)
    return max(rests, on_its_way, ANSWERS if is_asked else 0.0) + work.first_waits


def _benches(as_of: date) -> list[Bench]:
    """The watchmakers; for a skill that none of them has, the hours of skills.csv."""
    people = [
        Bench(frozenset(map(Complexity, one.skills)), np.array(one.minutes, dtype=np.int64))
        for one in minutes_by_day(as_of, DAYS)
        if one.skills and any(one.minutes)
    ]
    known = {skill for one in people for skill in one.skills}
    written = {skill: one for skill, one in benches_by_skill().items() if skill not in known}
    if not written:
        return people
    still = standing_still(as_of, as_of + timedelta(days=DAYS - 1))
    days = (as_of + timedelta(days=number) for number in range(DAYS))
    off = frozenset(day for day in days if still.holds(day))
    return people + [
        Bench(frozenset({Complexity(skill)}), minutes)
        for skill, one in written.items()
        for minutes in minutes_of_skill(one, as_of, DAYS, off)
        if minutes.any()
    ]
