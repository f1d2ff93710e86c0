"""Orders before benches, in many replications at once.

Whenever a bench and a piece that it may do are both free, the piece that is ranked first begins. It goes to the bench
that would have it done first by the mean minutes (a watchmaker about to leave for two weeks is handed nothing new);
what was begun is finished. A wait holds no bench.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service_center.planning.rules.promising.hours import Hours, Indices, Numbers

# How many turns are given out before orders that are through everywhere are taken off the table.
TIDIED_EVERY = 32


@dataclass(frozen=True, slots=True, eq=False)
class Jobs:
    """Orders in their rank, first to last, for several replications.

    free: when each may begin (replications x orders), in minutes. work: minutes of each turn (replications x orders x
    turns). mean, wait: minutes of each turn, and after it (orders x turns). turns: how many each order has. may: which
    benches may do each order (orders x benches).
    """

    free: Numbers
    work: Numbers
    mean: Numbers
    wait: Numbers
    turns: Indices
    may: NDArray[np.bool_]


def ready_times(jobs: Jobs, hours: Hours, *, until: int | None = None) -> Numbers:
    """When each order is through all its turns and waits (replications x orders); infinite: not within the days.

    `until`: stop when this order is through in every replication; orders behind it then read infinite.
    """
    table = _Table(jobs, hours)
    for number in range(int(jobs.turns.sum())):
        if until is not None and table.is_through(until):
            break
        if not table.give_out():
            break
        if number % TIDIED_EVERY == TIDIED_EVERY - 1:
            table.tidy()
    return table.ready


class _Table:
    """The state of all replications: where each order stands, and when each bench is free."""

    def __init__(self, jobs: Jobs, hours: Hours) -> None:
        replications, orders = jobs.free.shape
        self._hours = hours
        groups, self._group = np.unique(jobs.may, axis=0, return_inverse=True)
        self._may = np.asarray(groups, dtype=np.bool_)
        self._order = np.arange(orders)
        self._free, self._work, self._mean, self._wait = jobs.free.copy(), jobs.work, jobs.mean, jobs.wait
        self._turns = jobs.turns
        self._turn = np.zeros((replications, orders), dtype=np.intp)
        self._taken = np.zeros((replications, len(hours.all)))
        self._bench_at = np.broadcast_to(hours.next_at(self._taken[0], hours.all), self._taken.shape).copy()
        self._begins = np.stack(
            [self._begin(self._free[:, one], np.full(replications, self._group[one])) for one in range(orders)], axis=1
        )
        self.ready = np.full((replications, orders), np.inf)
        self._left = np.full(orders, replications)

    def is_through(self, order: int) -> bool:
        return int(self._left[order]) == 0

    def give_out(self) -> bool:
        """Give one turn out in every replication. False when there is none left that a bench can begin."""
        group_at = np.where(self._may, self._bench_at[:, None, :], np.inf).min(axis=2)
        possible = np.maximum(self._begins, group_at[:, self._group])
        now = possible.min(axis=1)
        rows = np.flatnonzero(np.isfinite(now))
        if not len(rows):
            return False
        who = (possible <= now[:, None]).argmax(axis=1)[rows]
        self._do(rows, who)
        return True

    def _do(self, rows: Indices, who: Indices) -> None:
        hours, turn = self._hours, self._turn[rows, who]
        free, group = self._free[rows, who], self._group[who]
        starts = np.maximum(hours.worked(free), self._taken[rows])
        would = hours.done_at(starts + self._mean[who, turn][:, None], hours.all)
        would[~self._may[group]] = np.inf
        bench = would.argmin(axis=1)
        at = np.arange(len(rows))
        taken = starts[at, bench] + self._work[rows, who, turn]
        possible = np.isfinite(would[at, bench])
        done = np.where(possible, np.maximum(hours.done_at(taken, bench), free), np.inf) + self._wait[who, turn]
        # Where no bench has the days for it, it takes the rest of the one that begins it first: whoever stands behind it
        # does not go first because the days end.
        begins = np.where(self._may[group], hours.next_at(starts, hours.all), np.inf)
        by = np.where(possible, bench, begins.argmin(axis=1))
        self._taken[rows, by] = np.where(possible, taken, np.inf)
        self._bench_at[rows, by] = hours.next_at(self._taken[rows, by], by)
        self._go_on(rows, who, done, last=turn + 1 == self._turns[who])

    def _go_on(self, rows: Indices, who: Indices, done: Numbers, *, last: NDArray[np.bool_]) -> None:
        self._turn[rows, who] += 1
        self._free[rows, who] = done
        over = last | ~np.isfinite(done)
        begins = np.full(len(rows), np.inf)
        begins[~over] = self._begin(done[~over], self._group[who][~over])
        self._begins[rows, who] = begins
        self.ready[rows[last], self._order[who[last]]] = done[last]
        np.subtract.at(self._left, self._order[who[over]], 1)

    def _begin(self, free: Numbers, group: Indices) -> Numbers:
        """When the first of the benches of a group works at or after each time."""
        next_at = self._hours.next_at(self._hours.worked(free), self._hours.all)
        return np.where(self._may[group], next_at, np.inf).min(axis=1)

    def tidy(self) -> None:
        """Take orders that are through in every replication off the table."""
        on = self._left[self._order] > 0
        if on.mean() > 0.9:
            return
        self._order, self._group, self._turns = self._order[on], self._group[on], self._turns[on]
        self._free, self._begins, self._turn = self._free[:, on], self._begins[:, on], self._turn[:, on]
        self._work, self._mean, self._wait = self._work[:, on], self._mean[on], self._wait[on]
