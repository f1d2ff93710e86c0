"""What was forecast for a week, and how often what came lay inside it (design/workshop.md, expected arrivals)."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from service_center.planning.rules.arrivals import likely_range
from service_center.planning.rules.picture import SkillWeeks

WEEKS_KEPT = 26
AHEAD = (1, 4, 12)  # weeks between the forecast and its week, as they are scored


@dataclass(frozen=True, slots=True)
class Said:
    """Pieces that a week is expected to bring, and the range in which eight weeks of ten lie."""

    expected: float
    low: int
    high: int


@dataclass(frozen=True, slots=True)
class Came:
    """One forecast week that is over."""

    skill: str
    ahead: int
    said: Said
    pieces: int

    @property
    def inside(self) -> bool:
        """Whether as many came as the range says."""
        return self.said.low <= self.pieces <= self.said.high


@dataclass(frozen=True, slots=True)
class Score:
    """Of so many weeks: how many lay inside their range, and what came against what was expected in all."""

    weeks: int
    inside: int
    expected: float
    came: int

    @property
    def share(self) -> float | None:
        """In percent; None where there is nothing to score."""
        return 100 * self.inside / self.weeks if self.weeks else None


def forecast_of(one: SkillWeeks) -> list[Said]:
    """What each week is expected to bring of letters that are out and to come, as invitations are planned now."""
    expected = [out + hours / one.hours for out, hours in zip(one.overhauls_out, one.to_come(one.before), strict=True)]
    return said_of(expected)


def said_of(expected: Sequence[float]) -> list[Said]:
    """Pieces expected by week, with their ranges."""
    low, high = likely_range(expected)
    return [Said(pieces, int(least), int(most)) for pieces, least, most in zip(expected, low, high, strict=True)]


def score(came: Iterable[Came]) -> Score:
    """Add weeks up."""
    rows = list(came)
    return Score(
        weeks=len(rows),
        inside=sum(one.inside for one in rows),
        expected=sum(one.said.expected for one in rows),
        came=sum(one.pieces for one in rows),
    )
