"""How many owners come, and how many weeks after the letter, with letters that have not had their chance yet.

The product-limit estimator of Kaplan and Meier (1958): a letter sent four weeks ago says nothing of the fifth week, and
everything of the first four. What owners said instead of coming (done elsewhere) is no arrival: they stay at risk.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import poisson

Numbers = NDArray[np.float64]

ANSWER_WEEKS = 26
# Until the house has letters of its own, as common practice has it: a good two in five owners come, most of them
# within three months. Of (weeks after the letter) x exp(-weeks / 3), scaled.
COME_AT_ALL = 0.45
COMMON_SHARES = tuple(
    float(share)
    for share in COME_AT_ALL
    * (np.arange(ANSWER_WEEKS) * np.exp(-np.arange(ANSWER_WEEKS) / 3))
    / (np.arange(ANSWER_WEEKS) * np.exp(-np.arange(ANSWER_WEEKS) / 3)).sum()
)
# How many letters of its own weigh as much as what is assumed: of the house against common practice, of a skill
# against the house.
HOUSE_WEIGHT = 30.0
SKILL_WEIGHT = 60.0


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
    times = np.array(sorted({one.weeks for one in sent if one.arrived}), dtype=np.int64)
    after = np.array([one.weeks for one in sent], dtype=np.int64)
    pieces = np.array([one.pieces for one in sent], dtype=np.int64)
    came = np.array([one.arrived for one in sent], dtype=bool)
    at_risk = np.array([pieces[after >= time].sum() for time in times], dtype=np.int64)
    events = np.array([pieces[(after == time) & came].sum() for time in times], dtype=np.int64)
    survival = np.cumprod(1 - events / at_risk, dtype=np.float64)
    left = at_risk - events
    terms = np.divide(events, at_risk * left, out=np.zeros(len(times)), where=left > 0)
    return Curve(times, at_risk, events, survival, survival * np.sqrt(np.cumsum(terms)))


def shares_of(hazard: Numbers) -> Numbers:
    """The share of all letters whose piece arrives in each week, from the share of those still awaited."""
    awaited = np.concatenate([[1.0], np.cumprod(1 - hazard)[:-1]])
    return awaited * hazard


def hazard_of(shares: Sequence[float]) -> Numbers:
    """The share of those still awaited that arrives in each week."""
    came = np.asarray(shares, dtype=float)
    awaited = 1 - np.concatenate([[0.0], np.cumsum(came)[:-1]])
    return np.divide(came, awaited, out=np.zeros(len(came)), where=awaited > 0)


def answer_shares(
    by_skill: Mapping[str, Sequence[Sent]], common: Sequence[float] = COMMON_SHARES
) -> dict[str, Numbers]:
    """The share of owners whose piece arrives 0, 1, 2 ... weeks after the letter, by skill.

    Each week's share of those still awaited is drawn towards the house's, and the house's towards common practice,
    the more the fewer letters were awaited that long.
    """
    weeks = len(common)
    awaited = {skill: _awaited(sent, weeks) for skill, sent in by_skill.items()}
    nothing = np.zeros(weeks)
    came_house = sum((came for came, _ in awaited.values()), nothing)
    risk_house = sum((risk for _, risk in awaited.values()), nothing)
    house = (came_house + HOUSE_WEIGHT * hazard_of(common)) / (risk_house + HOUSE_WEIGHT)
    return {
        skill: shares_of((came + SKILL_WEIGHT * house) / (risk + SKILL_WEIGHT))
        for skill, (came, risk) in awaited.items()
    }


def _awaited(sent: Sequence[Sent], weeks: int) -> tuple[Numbers, Numbers]:
    """Arrivals in each week after the letter, and pieces that were awaited through it.

    A week counts for a letter only when it is over: the piece came in it, or the letter is older than that.
    """
    came, risk = np.zeros(weeks), np.zeros(weeks)
    for one in sent:
        risk[: min(one.weeks + one.arrived, weeks)] += one.pieces
        if one.arrived and one.weeks < weeks:
            came[one.weeks] += one.pieces
    return came, risk


def still_to_come(shares: Numbers, age: int) -> Numbers:
    """Of letters so many weeks old whose piece has not come: the share that arrives this week, next week and so on.

    The present week is not over, so that it counts among the weeks to come.
    """
    gone = float(shares[:age].sum())
    if age >= len(shares) or gone >= 1:
        return np.zeros(0)
    return shares[age:] / (1 - gone)


def likely_range(expected: Sequence[float] | Numbers) -> tuple[Numbers, Numbers]:
    """Pieces that arrive in a week, from one week in ten to nine in ten, where so many are expected.

    Each owner comes or does not, on their own: a Poisson count. That the curve itself is learnt adds to the width where
    the house has few letters; it is not in here.
    """
    mean = np.asarray(expected, dtype=np.float64)
    return poisson.ppf(0.1, mean), poisson.ppf(0.9, mean)
