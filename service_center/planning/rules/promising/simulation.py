"""The day on which a new order would be ready, from many replications of the house's benches."""

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from scipy.stats import binom

from service_center.planning.rules.promising.hours import Hours, Numbers
from service_center.planning.rules.promising.queue import Jobs, ready_times
from service_center.planning.rules.promising.values import DAY, Bench, Order, Quote, Turn

# The ninth decile of so many is, 19 times in 20, that of a share between about 0.86 and 0.94 of all: `Quote.between`.
REPLICATIONS = 200
HALF, NINE_IN_TEN = 0.5, 0.9
# A spread below this share of the minutes is none.
FIXED = 1e-4
# The same book gives the same answer. An order keeps its draws when others come and go.
SEED = 1917


class NoBenchError(ValueError):
    """No bench may do an order of this complexity, or none has hours."""


def quote(
    as_of: date,
    benches: Sequence[Bench],
    in_the_house: Sequence[Order],
    new: Order,
    *,
    pace: float = 0.0,
    replications: int = REPLICATIONS,
) -> Quote:
    """When `new` would be ready, behind the orders in the house with an earlier promise, or the same one.

    The benches' minutes begin with the day `as_of`, and cover the same days. `pace`: the spread (a standard deviation,
    as a share) of what makes all work of a replication longer or shorter together. Raises NoBenchError.
    """
    able = [one for one in benches if one.minutes.any()]
    if not any(new.complexity in one.skills for one in able):
        raise NoBenchError(f"no bench with hours does {new.complexity}")
    # Of benches that would be done at the same time, the one that can do less takes it.
    able.sort(key=lambda one: len(one.skills))
    ranked = in_rank([one for one in in_the_house if any(one.complexity in bench.skills for bench in able)], new)
    place = ranked.index(new)
    jobs = jobs_of(ranked, able, replications, pace)
    ready = ready_times(jobs, Hours([bench.minutes for bench in able]), until=place)[:, place]
    low, high = _error(replications)
    in_order = np.sort(ready)
    return Quote(
        half_by=_day(as_of, _reached(in_order, HALF)),
        nine_in_ten_by=_day(as_of, _reached(in_order, NINE_IN_TEN)),
        between=(_day(as_of, float(in_order[low])), _day(as_of, float(in_order[high]))),
        orders_before=sum(_rank(one) <= _rank(new) for one in in_the_house),
    )


def in_rank(in_the_house: Sequence[Order], new: Order) -> list[Order]:
    """Earliest promise first; among those with the same promise as they came, and the new one last."""
    return (
        [*sorted(in_the_house, key=_rank), new] if new.promised_on is None else sorted([*in_the_house, new], key=_rank)
    )


def _rank(order: Order) -> date:
    return order.promised_on or date.max


def jobs_of(ranked: Sequence[Order], benches: Sequence[Bench], replications: int, pace: float = 0.0) -> Jobs:
    """The orders as arrays, with minutes drawn for each replication."""
    most = max(len(one.turns) for one in ranked)
    work = np.zeros((replications, len(ranked), most))
    mean, wait = np.zeros((len(ranked), most)), np.zeros((len(ranked), most))
    for number, one in enumerate(ranked):
        here = slice(0, len(one.turns))
        work[:, number, here] = drawn(one, replications)
        mean[number, here] = [turn.minutes for turn in one.turns]
        wait[number, here] = [turn.wait_hours * 60 for turn in one.turns]
    free = np.array([one.free_after * 60 for one in ranked])
    return Jobs(
        free=np.broadcast_to(free, (replications, len(ranked))),
        work=work * _minutes(Turn(1.0, pace), _source(0), replications)[:, None, None],
        mean=mean,
        wait=wait,
        turns=np.array([len(one.turns) for one in ranked]),
        may=np.array([[one.complexity in bench.skills for bench in benches] for one in ranked]),
    )


def drawn(order: Order, replications: int) -> Numbers:
    """Minutes of each turn of an order (replications x turns), the same at every call.

    Of a gamma distribution: never below nothing, skewed as bench times are, its mean and spread those of the turn; a sum
    of such times is nearly one again, so that operations may be put together to turns; and a spread as large as the mean
    makes it the exponential of the published queueing formula, so that the check runs this very code.
    """
    source = _source(order.key + 1)
    return np.stack([_minutes(turn, source, replications) for turn in order.turns], axis=1)


def _source(number: int) -> Generator:
    return Generator(PCG64(SeedSequence([SEED, number])))


def _minutes(turn: Turn, source: Generator, replications: int) -> Numbers:
    if turn.spread < FIXED * turn.minutes:
        return np.full(replications, float(turn.minutes))
    shape = (turn.minutes / turn.spread) ** 2
    return source.gamma(shape, turn.minutes / shape, replications)


def _reached(in_order: Numbers, share: float) -> float:
    """The time by which at least that share is ready."""
    return float(in_order[int(np.ceil(share * len(in_order) - 1e-9)) - 1])


def _error(replications: int) -> tuple[int, int]:
    """Places in the sorted replications between which the ninth decile of all lies, 19 times in 20, whatever its law."""
    low, high = (int(binom.ppf(share, replications, NINE_IN_TEN)) for share in (0.025, 0.975))
    return max(low - 1, 0), min(high, replications - 1)


def _day(as_of: date, at: float) -> date | None:
    """The calendar day of a time; midnight itself still belongs to the day that ends."""
    if not np.isfinite(at):
        return None
    return as_of + timedelta(days=max(int(np.ceil(at / DAY - 1e-9)) - 1, 0))
