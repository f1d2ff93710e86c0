"""What would be different with another watchmaker, a closed week, or owners who answer more often or less."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from service_center.planning.rules.bench_hours import worked_off
from service_center.planning.rules.levelling import Problem
from service_center.planning.rules.picture import Out


@dataclass(frozen=True, slots=True)
class WhatIf:
    """Changes to the coming weeks. `more_hours`: by skill and week; `closed`: a week in which no bench works.

    `answers`: by what the share of owners that comes is multiplied, 1 for as it is.
    """

    more_hours: Mapping[str, Sequence[float]]
    closed: int | None = None
    answers: float = 1.0


def with_changes(problem: Problem, out: Out, what_if: WhatIf) -> tuple[Problem, Out]:
    """The problem as it would be. Orders in the house stay, and are worked off in the hours that there are then."""
    capacity = {skill: _hours(skill, hours, what_if) for skill, hours in problem.capacity.items()}
    times = {skill: _times(shares, what_if.answers) for skill, shares in problem.answers.items()}
    arriving = {skill: [hours * times[skill] for hours in weeks] for skill, weeks in out.hours.items()}
    changed = Out(
        promised={
            skill: worked_off(
                sum(out.promised[skill]),
                [there - taken for there, taken in zip(capacity[skill], arriving[skill], strict=True)],
            )
            for skill in capacity
        },
        hours=arriving,
        overhauls={skill: [pieces * times[skill] for pieces in weeks] for skill, weeks in out.overhauls.items()},
    )
    return (
        replace(
            problem,
            capacity=capacity,
            answers={skill: [share * times[skill] for share in shares] for skill, shares in problem.answers.items()},
            committed={
                skill: [one + other for one, other in zip(changed.promised[skill], arriving[skill], strict=True)]
                for skill in capacity
            },
        ),
        changed,
    )


def _hours(skill: str, hours: Sequence[float], what_if: WhatIf) -> list[float]:
    more = what_if.more_hours.get(skill, [0.0] * len(hours))
    return [
        0.0 if week == what_if.closed else there + added
        for week, (there, added) in enumerate(zip(hours, more, strict=True))
    ]


def _times(shares: Sequence[float], asked: float) -> float:
    """No more than all owners come."""
    come = sum(shares)
    return min(asked, 1 / come) if come > 0 else asked
