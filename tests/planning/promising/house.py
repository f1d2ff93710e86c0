"""Benches and orders for tests of promise dates, in few words."""

from datetime import date
from typing import Any

import numpy as np

from service_center.book.rules import Complexity
from service_center.planning.rules.promising.values import Bench, Minutes, Order, Turn

MONDAY = date(2026, 3, 2)
DAYS = 400


def eight_hours(days: int = DAYS, *, hours: float = 8, off: tuple[int, ...] = ()) -> Minutes:
    """So many hours from Monday to Friday, from a Monday on; none on the days that are `off` (0: the first day)."""
    at = np.arange(days)
    return np.where((at % 7 < 5) & ~np.isin(at, off), round(hours * 60), 0).astype(np.int64)


def bench(minutes: Minutes | None = None, *skills: Complexity) -> Bench:
    return Bench(frozenset(skills or Complexity), eight_hours() if minutes is None else minutes)


def order(key: int, *turns: Turn, complexity: Complexity = Complexity.AUTOMATIC, **fields: Any) -> Order:
    return Order(key, complexity, turns, **fields)


def hours(number: float, *, wait: float = 0, spread: float = 0) -> Turn:
    """A turn of so many bench hours, then so many hours of waiting."""
    return Turn(number * 60, spread * 60, wait)
