"""Calendar time and worked minutes of several benches, one turned into the other.

Times are minutes from the midnight with which the first day begins. A bench works its minutes of a day in one piece from
eight in the morning, or from earlier where they would not fit before midnight.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from service_center.planning.rules.promising.values import DAY, Minutes

Numbers = NDArray[np.float64]
Indices = NDArray[np.intp]

BEGINS = 8 * 60


class Hours:
    """The working time of benches. `worked` counts a bench's minutes from the first day on."""

    def __init__(self, minutes: Sequence[Minutes]) -> None:
        """`minutes`: for each bench, those of each day; all of the same number of days."""
        by_day = np.stack([np.append(one, 0) for one in minutes]).astype(np.int64)
        benches, self._days = by_day.shape[0], by_day.shape[1] - 1
        days = np.arange(self._days + 1)
        self._begins = (days * DAY + np.minimum(BEGINS, DAY - by_day)).astype(np.float64)
        self._minutes = by_day.astype(np.float64)
        before = np.concatenate([np.zeros((benches, 1), dtype=np.int64), by_day[:, :-1].cumsum(axis=1)], axis=1)
        self._before = before.astype(np.float64)
        self._total = before[:, -1]
        # The day on which a bench works its n-th minute: one row of all benches, each from its own place on. Minute 0
        # stands for the first day with work, and one more than all of them for the day after the last.
        rows = [np.concatenate([[0], np.repeat(days[:-1], one[:-1]), [self._days]]) for one in by_day]
        self._place = np.cumsum([0] + [len(row) for row in rows[:-1]])
        self._day_of = np.concatenate(rows)
        # After the last day there is no more time; day rows then read as never.
        self._begins[:, -1] = np.inf
        self.all = np.arange(benches)

    def worked(self, at: Numbers) -> Numbers:
        """Minutes that each bench has worked by each time: (times) to (times x benches)."""
        with np.errstate(invalid="ignore"):
            day = np.where(at < self._days * DAY, at // DAY, self._days).astype(np.intp)[:, None]
        into = np.where(day < self._days, at[:, None] - self._begins[self.all, day], 0.0)
        return self._before[self.all, day] + np.clip(into, 0.0, self._minutes[self.all, day])

    def done_at(self, worked: Numbers, bench: Indices) -> Numbers:
        """When a bench will have worked so many minutes; infinite where its days do not suffice."""
        return self._time(worked, bench, np.ceil(worked))

    def next_at(self, worked: Numbers, bench: Indices) -> Numbers:
        """When a bench goes on after so many minutes; infinite where it has no more."""
        return self._time(worked, bench, np.floor(worked) + 1)

    def _time(self, worked: Numbers, bench: Indices, minute: Numbers) -> Numbers:
        within = np.minimum(minute, self._total[bench] + 1).astype(np.intp)
        day = self._day_of[self._place[bench] + within]
        return self._begins[bench, day] + (worked - self._before[bench, day])
