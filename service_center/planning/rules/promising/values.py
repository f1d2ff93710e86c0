"""What a promise is worked out from: benches with their hours, orders with what is left to do, and the answer."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from service_center.book.rules import Complexity

Minutes = NDArray[np.int64]

DAY = 24 * 60


@dataclass(frozen=True, slots=True, eq=False)
class Bench:
    """One watchmaker: the complexities they may do, and whole bench minutes of each calendar day from the first on.

    Raises ValueError for minutes that no day has.
    """

    skills: frozenset[Complexity]
    minutes: Minutes

    def __post_init__(self) -> None:
        if self.minutes.ndim != 1 or not np.issubdtype(self.minutes.dtype, np.integer):
            raise ValueError("bench minutes are whole numbers, one for each day")
        if len(self.minutes) and not 0 <= int(self.minutes.min()) <= int(self.minutes.max()) <= DAY:
            raise ValueError(f"bench minutes of a day are 0 to {DAY}")


@dataclass(frozen=True, slots=True)
class Turn:
    """One turn at a bench: its mean minutes, their spread (a standard deviation), and the hours that pass afterwards.

    Those hours need no bench: oil settles, a reserve runs down. Raises ValueError for a turn without minutes.
    """

    minutes: float
    spread: float = 0.0
    wait_hours: float = 0.0

    def __post_init__(self) -> None:
        if self.minutes <= 0 or self.spread < 0 or self.wait_hours < 0:
            raise ValueError(f"a turn takes minutes, and its spread and wait are 0 or more: {self}")


@dataclass(frozen=True, slots=True)
class Order:
    """An order with bench work left: its turns in sequence, the first from `free_after` hours after the first day began.

    `key`: a number of its own, by which its minutes are drawn. `promised_on`: the day by which it is ranked; None ranks
    it last.
    """

    key: int
    complexity: Complexity
    turns: tuple[Turn, ...]
    free_after: float = 0.0
    promised_on: date | None = None

    def __post_init__(self) -> None:
        if self.key < 0 or self.free_after < 0 or not self.turns:
            raise ValueError(f"an order has a key, turns at a bench, and is free from the first day on: {self}")


@dataclass(frozen=True, slots=True)
class Quote:
    """When half, and nine in ten, of such orders would be ready; None: not within the days that were given.

    `between`: the ninth decile's own error from the number of replications, its 95 % range (earliest, latest day).
    `orders_before`: orders in the house with bench work left that are ranked before it.
    """

    half_by: date | None
    nine_in_ten_by: date | None
    between: tuple[date | None, date | None]
    orders_before: int


def turns_of(operations: Iterable[Turn]) -> tuple[Turn, ...]:
    """Operations that follow each other without a wait are one turn at a bench.

    Means add up, and so do the squares of the spreads: what one operation takes says nothing of the next.
    """
    turns: list[Turn] = []
    for one in operations:
        if turns and turns[-1].wait_hours == 0:
            before = turns.pop()
            spread = float(np.hypot(before.spread, one.spread))
            turns.append(Turn(before.minutes + one.minutes, spread, one.wait_hours))
        else:
            turns.append(one)
    return tuple(turns)
