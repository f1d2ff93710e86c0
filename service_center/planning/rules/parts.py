"""Which parts the coming months need, with ranges, and what to order by when.

An order uses a part at an unknown rate, learnt as a gamma distribution from closed orders and drawn towards common
practice where there are few; orders arrive at random around their forecast. The number needed is then negative
binomial: the gamma-Poisson mixture. Source: common practice of Bayesian statistics; checked by simulation.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

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
        return self._shape / (self.orders + PRIOR_ORDERS)

    @property
    def _shape(self) -> float:
        return self.used + PRIOR_ORDERS * max(self.usual, LEAST_RATE)

    def need(self, orders: float) -> "Need":
        """What so many expected orders (a mean, not a whole number) will use. Raises ValueError below 0."""
        if orders < 0:
            raise ValueError(f"expected orders are 0 or more, not {orders}")
        if orders == 0:
            return Need(0.0, 0, 0)
        weight = self.orders + PRIOR_ORDERS
        spread = nbinom(self._shape, weight / (weight + orders))
        return Need(self.mean * orders, int(spread.ppf(LOW)), int(spread.ppf(HIGH)))


@dataclass(frozen=True, slots=True)
class Need:
    """How many are needed: expected, and from (one time in ten fewer) to (one time in ten more)."""

    expected: float
    low: int
    high: int


@dataclass(frozen=True, slots=True)
class ToOrder:
    """What to order, in whole packs, and by which day so that it lies there in time. `quantity` 0: enough is there."""

    quantity: int
    by: date | None
    runs_out: date | None


def to_order(
    rate: Rate,
    orders_by_week: Sequence[float],
    *,
    first: date,
    as_of: date,
    on_hand: int,
    pack: int,
    delivery_days: int,
) -> ToOrder:
    """Order enough for nine in ten cases over the whole horizon, early enough for the week in which stock may run out.

    `orders_by_week`: expected orders of each week from the Monday `first`. Never before `as_of`: what should have been
    ordered last month is ordered today.
    """
    whole = rate.need(sum(orders_by_week))
    short = whole.high - on_hand
    if short <= 0:
        return ToOrder(0, None, None)
    expected = 0.0
    for week, orders in enumerate(orders_by_week):
        expected += orders
        if rate.need(expected).high > on_hand:
            runs_out = max(as_of, first + timedelta(weeks=week))
            break
    else:
        runs_out = first + timedelta(weeks=len(orders_by_week))
    by = max(as_of, runs_out - timedelta(days=delivery_days))
    return ToOrder(pack * ceil(short / pack), by, runs_out)
