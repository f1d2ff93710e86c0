"""What pages show of the coming weeks, as plain values that the database can keep."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import date, timedelta
from typing import Any

from service_center.planning.rules.arrivals import ANSWER_WEEKS
from service_center.planning.rules.curves import LetterCurve, OfSkill
from service_center.planning.rules.levelling import Counts, Problem, Standing
from service_center.planning.rules.proposing import Proposal
from service_center.planning.rules.weeks import week_name


@dataclass(frozen=True, slots=True)
class Sums:
    """What one plan comes to, over all skills and weeks."""

    peak: float
    overload_hours: float
    weeks_early: float
    weeks_late: float

    @property
    def days_early(self) -> float:
        """Days before due, all pieces together."""
        return 7 * self.weeks_early

    @property
    def days_late(self) -> float:
        """Days after due, all pieces together."""
        return 7 * self.weeks_late


@dataclass(frozen=True, slots=True)
class OutStep:
    """Overhauls awaited of one step's letters: pieces by the weeks since their letter, and those expected by week."""

    step: str
    ages: Sequence[int]
    expected: Sequence[float]

    def awaited_in(self, week: int) -> int:
        """Pieces whose letter is young enough to bring them in a week."""
        return sum(self.ages[: max(0, ANSWER_WEEKS - week)])


@dataclass(frozen=True, slots=True)
class SkillWeeks:
    """One skill by week, in bench hours; `overhauls_out` and `invited...` in pieces. `hours`: of one overhaul.

    `before` and `after`: all hours together as invitations are planned now, and under the proposal. `answers`: the
    share of owners that comes 0, 1, 2 ... weeks after the letter.
    """

    skill: str
    hours: float
    answers: Sequence[float]
    capacity: Sequence[float]
    promised: Sequence[float]
    letters_out: Sequence[float]
    overhauls_out: Sequence[float]
    before: Sequence[float]
    after: Sequence[float]
    invited_before: Sequence[int]
    invited_after: Sequence[int]
    letters: Sequence[OutStep] = ()

    def to_come(self, total: Sequence[float]) -> list[float]:
        """Hours that letters to come bring, of a total (`before` or `after`)."""
        return [
            max(0.0, hours - promised - out)
            for hours, promised, out in zip(total, self.promised, self.letters_out, strict=True)
        ]


@dataclass(frozen=True, slots=True)
class Picture:
    """The coming weeks as they are planned, and the proposal beside them. `first`: the Monday of the first week."""

    first: date
    skills: Sequence[SkillWeeks]
    before: Sums
    after: Sums
    objective: float
    pieces: int
    unchanged: bool
    no_letters: int
    no_skill: int
    curves: Sequence[LetterCurve] = ()

    @property
    def weeks(self) -> int:
        """How many weeks."""
        return len(self.skills[0].capacity) if self.skills else 0

    def week_names(self) -> list[str]:
        """The weeks, as ISO 8601 writes them."""
        return [week_name(self.first + timedelta(weeks=week)) for week in range(self.weeks)]

    def of(self, skill: str) -> SkillWeeks | None:
        """One skill's weeks; None where it has none."""
        return next((one for one in self.skills if one.skill == skill), None)

    def as_json(self) -> dict[str, Any]:
        """For the database."""
        return {**asdict(self), "first": self.first.isoformat()}

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> "Picture":
        """From the database."""
        return cls(**{
            **kept,
            "first": date.fromisoformat(kept["first"]),
            "skills": [
                SkillWeeks(**{**one, "letters": [OutStep(**step) for step in one.get("letters", ())]})
                for one in kept["skills"]
            ],
            "before": Sums(**kept["before"]),
            "after": Sums(**kept["after"]),
            "curves": [
                LetterCurve(**{**one, "by_skill": [OfSkill(**part) for part in one["by_skill"]]})
                for one in kept["curves"]
            ],
        })  # fmt: skip


@dataclass(frozen=True, slots=True)
class Out:
    """By skill and week: hours promised, hours that letters out are expected to bring, and the overhauls among them in pieces.

    `letters`: those overhauls by the letter that is out.
    """

    promised: Mapping[str, Sequence[float]]
    hours: Mapping[str, Sequence[float]]
    overhauls: Mapping[str, Sequence[float]]
    letters: Mapping[str, Sequence[OutStep]] = field(default_factory=dict)


def picture_of(
    problem: Problem,
    proposal: Proposal,
    out: Out,
    *,
    first: date,
    no_letters: int = 0,
    no_skill: int = 0,
    curves: Sequence[LetterCurve] = (),
) -> Picture:
    """Everything that pages show of a problem and its proposal."""
    return Picture(
        first=first,
        skills=[_skill(problem, proposal, out, skill) for skill in problem.skills()],
        before=_sums(proposal.before),
        after=_sums(proposal.after),
        objective=proposal.objective,
        pieces=int(proposal.invited.sum()),
        unchanged=proposal.unchanged,
        no_letters=no_letters,
        no_skill=no_skill,
        curves=curves,
    )


def _skill(problem: Problem, proposal: Proposal, out: Out, skill: str) -> SkillWeeks:
    rows = [number for number, cohort in enumerate(problem.cohorts) if cohort.skill == skill]

    def by_week(invited: Counts) -> list[int]:
        return [int(number) for number in invited[rows].sum(axis=0)]

    return SkillWeeks(
        skill=skill,
        hours=problem.hours[skill],
        answers=list(problem.answers[skill]),
        capacity=list(problem.capacity[skill]),
        promised=list(out.promised[skill]),
        letters_out=list(out.hours[skill]),
        overhauls_out=list(out.overhauls[skill]),
        before=proposal.before.hours[skill].tolist(),
        after=proposal.after.hours[skill].tolist(),
        invited_before=by_week(proposal.invited_before),
        invited_after=by_week(proposal.invited),
        letters=list(out.letters.get(skill, ())),
    )


def _sums(one: Standing) -> Sums:
    return Sums(one.peak, one.overload_hours, one.weeks_early, one.weeks_late)
