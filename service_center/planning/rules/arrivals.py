"""How many owners come, and how many weeks after the letter, by kind of service, step and skill.

A curve counts from a letter of its step to the arrival, whatever letters follow it: of those who have reached the step
without coming, it says all that is still to come. A letter sent four weeks ago says nothing of the fifth week, and
everything of the first four. What owners said instead of coming (done elsewhere) is no arrival: they stay at risk.
"""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.stats import poisson

from service_center.book.rules import ServiceKind
from service_center.letters.rules.words import Step
from service_center.planning.rules.survival import Sent

Numbers = NDArray[np.float64]

ANSWER_WEEKS = 26
Sort = tuple[ServiceKind, Step]  # which letter: about what, and the how manieth

OVERHAUL_INVITATION: Sort = (ServiceKind.OVERHAUL, Step.INVITATION)
# Until the house has letters of its own, as common practice has it: the share of owners that comes at all after each
# letter, of those who had not come before it. Of the invited a good two in five, most of them within three months.
COME_AT_ALL: dict[Sort, float] = {
    OVERHAUL_INVITATION: 0.45,
    (ServiceKind.OVERHAUL, Step.NUDGE): 0.25,
    (ServiceKind.OVERHAUL, Step.LAST): 0.12,
    (ServiceKind.TIGHTNESS, Step.INVITATION): 0.40,
    (ServiceKind.TIGHTNESS, Step.NUDGE): 0.20,
    (ServiceKind.TIGHTNESS, Step.YEARLY): 0.15,
}
# How many letters of its own weigh as much as what is assumed: of the house against common practice, of a skill
# against the house.
HOUSE_WEIGHT = 30.0
SKILL_WEIGHT = 60.0


def common_shares(sort: Sort) -> Numbers:
    """The share of owners that comes in each week after a letter, by common practice: weeks x exp(-weeks / 3), scaled."""
    weeks = np.arange(ANSWER_WEEKS)
    shape = weeks * np.exp(-weeks / 3)
    return np.asarray(COME_AT_ALL[sort] * shape / shape.sum(), dtype=np.float64)


def shares_of(hazard: Numbers) -> Numbers:
    """The share of all letters whose piece arrives in each week, from the share of those still awaited."""
    awaited = np.concatenate([[1.0], np.cumprod(1 - hazard)[:-1]])
    return awaited * hazard


def hazard_of(shares: Sequence[float] | Numbers) -> Numbers:
    """The share of those still awaited that arrives in each week."""
    came = np.asarray(shares, dtype=float)
    awaited = 1 - np.concatenate([[0.0], np.cumsum(came)[:-1]])
    return np.divide(came, awaited, out=np.zeros(len(came)), where=awaited > 0)


def answer_shares(
    by_skill: Mapping[str, Sequence[Sent]], common: Sequence[float] | Numbers | None = None
) -> dict[str, Numbers]:
    """The share of owners whose piece arrives 0, 1, 2 ... weeks after the letter, by skill.

    Each week's share of those still awaited is drawn towards the house's, and the house's towards common practice
    (of the overhaul's invitation where nothing else is said), the more the fewer letters were awaited that long.
    """
    usual = common_shares(OVERHAUL_INVITATION) if common is None else np.asarray(common, dtype=np.float64)
    weeks = len(usual)
    awaited = {skill: _awaited(sent, weeks) for skill, sent in by_skill.items()}
    house = _house(list(awaited.values()), usual)
    return {
        skill: shares_of((came + SKILL_WEIGHT * house) / (risk + SKILL_WEIGHT))
        for skill, (came, risk) in awaited.items()
    }


def house_shares(sent: Sequence[Sent], sort: Sort) -> Numbers:
    """The same of all skills together: what the house's letters of one sort bring."""
    usual = common_shares(sort)
    return shares_of(_house([_awaited(sent, len(usual))], usual))


def learn(letters: Mapping[Sort, Mapping[str, Sequence[Sent]]]) -> dict[Sort, dict[str, Numbers]]:
    """The curves of every letter that there is, by skill."""
    return {sort: answer_shares(letters.get(sort, {}), common_shares(sort)) for sort in COME_AT_ALL}


def _house(awaited: Sequence[tuple[Numbers, Numbers]], usual: Numbers) -> Numbers:
    nothing = np.zeros(len(usual))
    came = sum((one for one, _ in awaited), nothing)
    risk = sum((one for _, one in awaited), nothing)
    return np.asarray((came + HOUSE_WEIGHT * hazard_of(usual)) / (risk + HOUSE_WEIGHT), dtype=np.float64)


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
