"""Which parts the coming months need, with ranges, and what to order by when.

An order uses a part at an unknown rate, learnt as a gamma distribution from closed orders and drawn towards common
practice where there are few; orders arrive at random around their forecast. The number needed is then negative
binomial: the gamma-Poisson mixture. Orders of each kind have a rate of their own; what they need is added up. Source: common practice of Bayesian statistics; checked by simulation.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc
from scipy.stats import gamma, nbinom

Numbers = NDArray[np.float64]

# So many orders of common practice stand behind the house's own. Ours to choose.
PRIOR_ORDERS = 5.0
# No part is so surely never used that the next order could not need one.
LEAST_RATE = 0.01
LOW, HIGH = 0.1, 0.9
# So small a share of an order is none: its square would be lost in rounding.
NONE_EXPECTED = 1e-9


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

    def likely(self) -> tuple[float, float]:
        """Parts an order uses: from (one time in ten it is fewer) to (one time in ten it is more)."""
        low, high = gamma.ppf((LOW, HIGH), self.shape, scale=1 / self.weight)
        return float(low), float(high)


@dataclass(frozen=True, slots=True)
class Need:
    """How many are needed: expected, and from (one time in ten fewer) to (one time in ten more)."""

    expected: float
    low: int
    high: int


def needs(rates: Sequence[Sequence[Rate]], orders: Sequence[Sequence[Sequence[float]]]) -> list[list[Need]]:
    """What each part needs for each number of expected orders, all parts at once.

    `rates`: of each part, by kind of order. `orders`: of each part and kind, the numbers expected (means, not whole
    numbers). Raises ValueError below 0.
    """
    if not rates:
        return []
    expected = np.asarray(orders, dtype=np.float64)
    if (expected < 0).any():
        raise ValueError(f"expected orders are 0 or more, not {expected.min():g}")
    mixed = _mixed(rates, expected)
    low, high = (nbinom.ppf(share, mixed.shape, 1 / (1 + mixed.scale)) for share in (LOW, HIGH))
    return [
        [Need(float(number), int(least), int(most)) for number, least, most in zip(*row, strict=True)]
        for row in zip(mixed.mean, low, high, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class _Mixed:
    """The gamma distribution around which the parts needed are Poisson counts, by part and number of orders."""

    mean: Numbers
    shape: Numbers
    scale: Numbers


def _mixed(rates: Sequence[Sequence[Rate]], expected: Numbers) -> _Mixed:
    """Of kinds of order together: the gamma distribution with the mean and variance of their sum.

    Of one kind it is exact. Source: Satterthwaite (1946) for the sum of gamma variables; checked by simulation.
    """
    shape = np.array([[[rate.shape] for rate in of_part] for of_part in rates])
    weight = np.array([[[rate.weight] for rate in of_part] for of_part in rates])
    scales = np.where(expected > NONE_EXPECTED, expected, 0.0) / weight
    mean, variance = (shape * scales).sum(axis=1), (shape * scales**2).sum(axis=1)
    some = mean > 0
    # Where nothing is expected the distribution is all at 0, which nbinom gives for a probability of 1.
    return _Mixed(
        mean,
        np.divide(mean**2, variance, out=np.ones_like(mean), where=some),
        np.divide(variance, mean, out=np.zeros_like(mean), where=some),
    )


def first_short_week(
    rates: Sequence[Rate], orders_by_week: Sequence[Sequence[float]], there: Sequence[int]
) -> int | None:
    """The first week, from 0, by whose end one time in ten more is needed than there is; None where that is never.

    `orders_by_week` by kind of order; `there`: what lies on the shelf and has come by the beginning of each week.
    """
    lies_there = np.asarray(there, dtype=np.float64)
    expected = np.cumsum(np.asarray(orders_by_week, dtype=np.float64), axis=1)
    mixed = _mixed([rates], expected[np.newaxis])
    # The cumulative distribution of the negative binomial (DLMF 8.17.24), at what lies on the shelf.
    enough = betainc(mixed.shape[0], np.maximum(lies_there, 0.0) + 1.0, 1 / (1 + mixed.scale[0]))
    short = np.flatnonzero((enough < HIGH) | (lies_there < 0))
    return int(short[0]) if len(short) else None


@dataclass(frozen=True, slots=True)
class ToOrder:
    """What to order, in whole packs, and by which day so that it lies there in time. `quantity` 0: enough is there."""

    quantity: int
    by: date | None
    runs_out: date | None


def order_up_to(most: int, runs_out: date | None, *, as_of: date, there: int, pack: int, delivery_days: int) -> ToOrder:
    """Whole packs up to `most`, so that they lie there on the day on which what is there, or on order, may run out."""
    short = most - there
    if short <= 0 or runs_out is None:
        return ToOrder(0, None, None)
    return ToOrder(pack * ceil(short / pack), max(as_of, runs_out - timedelta(days=delivery_days)), runs_out)
