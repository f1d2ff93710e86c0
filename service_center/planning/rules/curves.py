"""What each letter brings, as the desk reads it: how many come, how long after it, and on how many letters that rests."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from service_center.planning.rules.arrivals import (
    ANSWER_WEEKS,
    COME_AT_ALL,
    Sort,
    answer_shares,
    common_shares,
    house_shares,
)
from service_center.planning.rules.survival import Numbers, Sent, kaplan_meier

NINE_IN_TEN = 1.6448536269514722  # standard errors to either side that hold nine cases in ten
SHOWN_WEEKS = (4, 8, 13, ANSWER_WEEKS)


@dataclass(frozen=True, slots=True)
class OfSkill:
    """One skill's part of a letter's curve: letters sent, pieces that came, and the share expected to come in all."""

    skill: str
    letters: int
    came: int
    come_at_all: float


@dataclass(frozen=True, slots=True)
class LetterCurve:
    """One letter's curve over ANSWER_WEEKS weeks. `came`: within them; `open`: letters that are younger, whose piece has not come.

    `learnt`: the share that has come by the end of each week, as planning expects it. `seen`, `low`, `high`: as the
    house's own letters say, with the ends of a range that holds nine cases in ten; empty where nobody has come.
    """

    kind: str
    step: str
    letters: int
    came: int
    open: int
    learnt: Sequence[float]
    seen: Sequence[float]
    low: Sequence[float]
    high: Sequence[float]
    by_skill: Sequence[OfSkill]

    @property
    def half_within(self) -> int | None:
        """Weeks within which half of those who come have come; None where nobody is expected."""
        return next((week + 1 for week, share in enumerate(self.learnt) if share >= self.learnt[-1] / 2 > 0), None)

    def percent_by(self, weeks: int) -> float:
        """The share that is expected to have come so many weeks after the letter, in percent."""
        return 100 * self.learnt[weeks - 1]


def letter_curves(letters: Mapping[Sort, Mapping[str, Sequence[Sent]]]) -> list[LetterCurve]:
    """The curve of every letter, in the order in which they are written."""
    return [_curve(sort, letters.get(sort, {})) for sort in COME_AT_ALL]


def _curve(sort: Sort, by_skill: Mapping[str, Sequence[Sent]]) -> LetterCurve:
    sent = [one for letters in by_skill.values() for one in letters]
    seen, low, high = _seen(sent)
    shares = answer_shares(by_skill, common_shares(sort))
    return LetterCurve(
        kind=sort[0].value,
        step=sort[1].value,
        letters=sum(one.pieces for one in sent),
        came=_came(sent),
        open=sum(one.pieces for one in sent if not one.arrived and one.weeks < ANSWER_WEEKS),
        learnt=np.cumsum(house_shares(sent, sort)).tolist(),
        seen=seen.tolist(),
        low=low.tolist(),
        high=high.tolist(),
        by_skill=[
            OfSkill(skill, sum(one.pieces for one in letters), _came(letters), float(shares[skill].sum()))
            for skill, letters in by_skill.items()
        ],
    )


def _came(sent: Sequence[Sent]) -> int:
    return sum(one.pieces for one in sent if one.arrived and one.weeks < ANSWER_WEEKS)


def _seen(sent: Sequence[Sent]) -> tuple[Numbers, Numbers, Numbers]:
    """The estimator's share that has come by the end of each week, with its range."""
    curve = kaplan_meier(sent)
    if not curve.times.size or curve.times[0] >= ANSWER_WEEKS:
        return np.zeros(0), np.zeros(0), np.zeros(0)
    at = np.searchsorted(curve.times, np.arange(ANSWER_WEEKS), side="right")
    come = np.concatenate([[0.0], 1 - curve.survival])[at]
    width = NINE_IN_TEN * np.concatenate([[0.0], curve.standard_error])[at]
    return come, np.clip(come - width, 0, 1), np.clip(come + width, 0, 1)
