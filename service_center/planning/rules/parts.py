"""Which parts the coming months need, with ranges, and what to order by when.

An order uses a part at an unknown rate, learnt as a gamma distribution from closed orders and drawn towards common
practice where there are few; orders arrive at random around their forecast. The number needed is then negative
binomial: the gamma-Poisson mixture. Source: common practice of Bayesian statistics; checked by simulation.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

import numpy as np
from scipy.special import betainc
from scipy.stats import nbinom

# So many orders of common practice stand behind the house's own. Ours to choose.
PRIOR_ORDERS = 5.0
# No part is so surely never used that the next order could not need one.
LEAST_RATE = 0.01
LOW, HIGH = 0.1, 0.9


@dataclass(frozen=True, slots=True)
class Rate:
    """Parts an order uses: `used` in `orders` closed ones, and what common practice says of one order."""

    used: int
    orders: int
    usual: float

    @property
    def mean(self) -> float:
        """The learnt rate, drawn towards common practice."""
        return self.shape / self.weight

    @property
    def shape(self) -> float:
        """Of the gamma distribution: parts used, with those of common practice."""
        return self.used + PRIOR_ORDERS * max(self.usual, LEAST_RATE)

    @property
    def weight(self) -> float:
        """Of the gamma distribution: orders seen, with those of common practice."""
        return self.orders + PRIOR_ORDERS

    def need(self, orders: float) -> "Need":
        """What so many expected orders (a mean, not a whole number) will use. Raises ValueError below 0."""
        return needs([self], [[orders]])[0][0]


@dataclass(frozen=True, slots=True)
class Need:
    """How many are needed: expected, and from (one time in ten fewer) to (one time in ten more)."""

    expected: float
    low: int
    high: int


def needs(rates: Sequence[Rate], orders: Sequence[Sequence[float]]) -> list[list[Need]]:
    """What each part needs for each number of expected orders (a row a part), all at once. Raises ValueError below 0."""
    if not rates:
        return []
    expected = np.asarray(orders, dtype=np.float64)
    if (expected < 0).any():
        raise ValueError(f"expected orders are 0 or more, not {expected.min():g}")
    shape = np.array([[rate.shape] for rate in rates])
    weight = np.array([[rate.weight] for rate in rates])
    # Where nothing is expected the distribution is all at 0, which nbinom gives for a probability of 1.
    low, high = (nbinom.ppf(share, shape, weight / (weight + expected)) for share in (LOW, HIGH))
    mean = shape / weight * expected
    return [
        [Need(float(number), int(least), int(most)) for number, least, most in zip(*row, strict=True)]
        for row in zip(mean, low, high, strict=True)
    ]


def first_short_week(rate: Rate, orders_by_week: Sequence[float], on_hand: int) -> int | None:
    """The first week, from 0, by whose end one time in ten more is needed than lies there; None where that is never."""
    if on_hand < 0:
        return 0
    expected = np.cumsum(np.asarray(orders_by_week, dtype=np.float64))
    # The cumulative distribution of the negative binomial (DLMF 8.17.24), at what lies on the shelf.
    enough = betainc(rate.shape, on_hand + 1.0, rate.weight / (rate.weight + expected))
    short = np.flatnonzero(enough < HIGH)
    return int(short[0]) if len(short) else None


@dataclass(frozen=True, slots=True)
class ToOrder:
    """What to order, in whole packs, and by which day so that it lies there in time. `quantity` 0: enough is there."""

    quantity: int
    by: date | None
    runs_out: date | None


def order_up_to(
    most: int, runs_out: date | None, *, as_of: date, on_hand: int, pack: int, delivery_days: int
) -> ToOrder:
    """Whole packs up to `most`, so that they lie there on the day on which what is on hand may run out."""
    short = most - on_hand
    if short <= 0 or runs_out is None:
        return ToOrder(0, None, None)
    return ToOrder(pack * ceil(short / pack), max(as_of, runs_out - timedelta(days=delivery_days)), runs_out)
