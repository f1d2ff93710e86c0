"""Who has not come yet, by time after the letter: the product-limit estimator of Kaplan and Meier (1958), by SciPy."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import CensoredData, ecdf

Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Sent:
    """Letters of one age: after so many weeks `arrived` says whether those pieces came, or are still awaited."""

    weeks: int
    arrived: bool
    pieces: int


@dataclass(frozen=True, slots=True)
class Curve:
    """The product-limit estimate at each time of an event, with Greenwood's standard error."""

    times: NDArray[np.int64]
    at_risk: NDArray[np.int64]
    events: NDArray[np.int64]
    survival: Numbers
    standard_error: Numbers


def kaplan_meier(sent: Sequence[Sent]) -> Curve:
    """The share that has not come yet, by time. Those censored at a time are at risk at that time."""
    after = np.array([one.weeks for one in sent], dtype=np.int64)
    pieces = np.array([one.pieces for one in sent], dtype=np.int64)
    came = np.array([one.arrived for one in sent], dtype=bool)
    times = np.unique(after[came & (pieces > 0)])
    if not times.size:
        return Curve(times, times, times, np.zeros(0), np.zeros(0))
    spread, arrived = np.repeat(after, pieces), np.repeat(came, pieces)
    survival = ecdf(CensoredData(uncensored=spread[arrived], right=spread[~arrived])).sf.evaluate(times)
    at_risk = np.array([pieces[after >= time].sum() for time in times], dtype=np.int64)
    events = np.array([pieces[(after == time) & came].sum() for time in times], dtype=np.int64)
    left = at_risk - events
    terms = np.divide(events, at_risk * left, out=np.zeros(len(times)), where=left > 0)
    return Curve(times, at_risk, events, np.asarray(survival), survival * np.sqrt(np.cumsum(terms)))
