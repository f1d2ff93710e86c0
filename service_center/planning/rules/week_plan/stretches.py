"""Stretches of work: operations of one order that are done in one go, as the week's plan places them.

Nobody puts a piece away between uncasing and dismantling: operations that follow without a wait stay together up to
half a bench's day. One that is longer than any bench's day is cut into equal parts. Common practice; the length is ours.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from service_center.planning.rules.week_plan.week import Place

STRETCH = 240  # minutes
HOURS_A_DAY = 24


@dataclass(frozen=True, slots=True)
class Step:
    """One operation that is left to do. `alone`: others may follow from what it finds. `fixed`: by part, where cut."""

    key: int
    minutes: int
    wait_hours: int = 0
    keeps_bench: bool = False
    alone: bool = False
    fixed: tuple[Place, ...] = ()


@dataclass(frozen=True, slots=True)
class Stretch:
    """Operations in one go, by their keys; `part` of `parts` where one is cut (from 1), else 0."""

    steps: tuple[int, ...]
    minutes: int
    wait_days: int
    keeps_bench: bool
    fixed: Place | None
    part: int = 0
    parts: int = 0


def stretches_of(steps: Sequence[Step], longest: int) -> list[Stretch]:
    """The work of an order in stretches; `longest`: minutes of the longest day of a bench that may do it.

    What the desk fixed alike stays together, and apart from the rest.
    """
    runs: list[list[Step]] = []
    for step in steps:
        if runs and _together(runs[-1], step):
            runs[-1].append(step)
        else:
            runs.append([step])
    return [stretch for run in runs for stretch in _in_parts(run, longest)]


def _together(last: Sequence[Step], step: Step) -> bool:
    if last[-1].wait_hours or last[-1].fixed != step.fixed or last[-1].alone or step.alone:
        return False
    return bool(step.fixed) or sum(one.minutes for one in last) + step.minutes <= STRETCH


def _in_parts(run: Sequence[Step], longest: int) -> list[Stretch]:
    minutes = max(1, sum(one.minutes for one in run))
    keys, keeps = tuple(one.key for one in run), any(one.keeps_bench for one in run)
    wait = days_of(run[-1].wait_hours)
    fixed = run[0].fixed
    parts = -(-minutes // longest) if len(run) == 1 and longest else 1
    if parts == 1:
        return [Stretch(keys, minutes, wait, keeps, fixed[0] if fixed else None)]
    return [
        Stretch(
            keys,
            minutes * (part + 1) // parts - minutes * part // parts,
            wait if part == parts - 1 else 0,
            keeps,
            fixed[part] if part < len(fixed) else None,
            part + 1,
            parts,
        )
        for part in range(parts)
    ]


def days_of(hours: int) -> int:
    """Days that a wait takes: one that ends in the night has ended by the next morning."""
    return -(-hours // HOURS_A_DAY)
