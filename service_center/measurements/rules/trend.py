"""How a figure changes across visits: a robust slope with its interval, and when it reaches a limit.

Theil-Sen: the median of the slopes between all pairs of visits; its interval after Sen (1968), both by SciPy.
With three visits the interval is the whole range of their three slopes.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median

from scipy.stats import theilslopes

FEWEST_VISITS = 3
CONFIDENCE = 0.95
DAYS_A_YEAR = 365.25


@dataclass(frozen=True, slots=True)
class Trend:
    """Change a year in the figure's own unit, with the ends of its 95 % interval; `level` is the line on `first`.

    The line turns about the middle visit, `middle` days after the first: Theil-Sen's line goes through the medians.
    """

    first: date
    last: date
    visits: int
    a_year: float
    low: float
    high: float
    level: float
    middle: float

    @property
    def falls(self) -> bool:
        """Whether it falls, told from none: the whole interval lies below zero."""
        return self.high < 0

    @property
    def rises(self) -> bool:
        """Whether it rises, told from none: the whole interval lies above zero."""
        return self.low > 0

    def on(self, day: date) -> float:
        """The line's value on a day."""
        return self.level + self.a_year * (day - self.first).days / DAYS_A_YEAR

    def between_on(self, day: date) -> tuple[float, float]:
        """Lowest and highest value on a day, by the ends of the slope's interval."""
        away = ((day - self.first).days - self.middle) / DAYS_A_YEAR
        centre = self.level + self.a_year * self.middle / DAYS_A_YEAR
        ends = (centre + self.low * away, centre + self.high * away)
        return min(ends), max(ends)

    def falls_between(self, limit: float) -> tuple[date, date | None] | None:
        """The first and the last day on which a falling line may stand at a limit, by the ends of its interval.

        None where it cannot be told from level; the last day is None beyond the calendar.
        """
        if not self.falls:
            return None
        centre = self.level + self.a_year * self.middle / DAYS_A_YEAR
        steep, shallow = (self._when(limit, centre, slope) for slope in (self.low, self.high))
        return (steep or self.last), shallow

    def _when(self, limit: float, centre: float, slope: float) -> date | None:
        days = math.ceil(self.middle + (limit - centre) / slope * DAYS_A_YEAR)
        day = max(self.first.toordinal() + days, self.last.toordinal())
        return date.fromordinal(day) if day <= date.max.toordinal() else None

    def falls_to(self, limit: float) -> date | None:
        """The first day on which a falling line stands at a limit or below it, no earlier than the last visit.

        None where it cannot be told from level, or gets there beyond the calendar.
        """
        return self._meets(limit) if self.falls else None

    def rises_to(self, limit: float) -> date | None:
        """The same for a rising line and a limit above."""
        return self._meets(limit) if self.rises else None

    def _meets(self, limit: float) -> date | None:
        days = max(0, math.ceil((limit - self.on(self.last)) / self.a_year * DAYS_A_YEAR))
        latest = self.last.toordinal() + days
        return date.fromordinal(latest) if latest <= date.max.toordinal() else None


def trend_of(days: Sequence[date], values: Sequence[float]) -> Trend | None:
    """The trend of one figure over visits in the order of their days, or None for fewer than three.

    `days` and `values` are of one length, the days all different. ValueError otherwise.
    """
    if len(days) != len(values) or sorted(set(days)) != list(days):
        raise ValueError("each visit has its own day, in order, and one value")
    if len(days) < FEWEST_VISITS:
        return None
    years = [(day - days[0]).days / DAYS_A_YEAR for day in days]
    slope, level, low, high = theilslopes(values, years, CONFIDENCE)
    middle = median((day - days[0]).days for day in days)
    return Trend(days[0], days[-1], len(days), float(slope), float(low), float(high), float(level), float(middle))
