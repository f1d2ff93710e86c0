"""What a rehearsal says, as it is worked out and as it is kept."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Self

from service_center.book.rules import ServiceKind
from service_center.letters.rules.deciding import Decision, NotWritten, Reason
from service_center.letters.rules.steps import Planned
from service_center.letters.rules.words import Step, Unusual

EXAMPLES = 25


@dataclass(frozen=True, slots=True)
class Travelling:
    """One reminder of a letter that would be written: of which piece (its id), and the day on which it comes up."""

    piece: int
    kind: ServiceKind
    step: Step
    comes_up_on: date

    @classmethod
    def of(cls, planned: Planned) -> Self:
        return cls(planned.service.piece, planned.service.kind, planned.step, planned.goes_out_on)


@dataclass(slots=True)
class Rehearsed:
    """A round as it would be. `owners` have something to come, by their due dates; the rest is what was decided for them.

    `letters` would be written, `joined` wait already and would take more along. `examples`: what travels in the first
    letters; `not_written`: the first pieces for which something comes up and nothing goes out, of all that `reasons` counts.
    """

    owners: int = 0
    letters: int = 0
    joined: int = 0
    steps: Counter[tuple[ServiceKind, Step]] = field(default_factory=Counter)
    reasons: Counter[Reason] = field(default_factory=Counter)
    not_written: list[NotWritten] = field(default_factory=list)
    examples: list[tuple[Travelling, ...]] = field(default_factory=list)
    unusual: Unusual | None = None

    def add(self, decision: Decision) -> None:
        """Count in what was decided for one owner."""
        self.reasons.update(one.reason for one in decision.not_written)
        self.not_written += decision.not_written[: max(0, EXAMPLES - len(self.not_written))]
        if not decision.reminders:
            return
        self.letters += decision.joins is None
        self.joined += decision.joins is not None
        self.steps.update((one.service.kind, one.step) for one in decision.reminders)
        if len(self.examples) < EXAMPLES:
            self.examples.append(tuple(Travelling.of(one) for one in decision.reminders))

    def as_json(self) -> dict[str, Any]:
        """Values that JSON knows."""
        return {
            "owners": self.owners,
            "letters": self.letters,
            "joined": self.joined,
            "steps": [[kind.value, step.value, number] for (kind, step), number in self.steps.items()],
            "reasons": {reason.value: number for reason, number in self.reasons.items()},
            "not_written": [[one.serial, one.reason.value] for one in self.not_written],
            "examples": [
                [[one.piece, one.kind.value, one.step.value, one.comes_up_on.isoformat()] for one in letter]
                for letter in self.examples
            ],
            "unusual": self.unusual.value if self.unusual else "",
        }

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> Self:
        """What `as_json` made."""
        return cls(
            owners=kept["owners"],
            letters=kept["letters"],
            joined=kept["joined"],
            steps=Counter({(ServiceKind(kind), Step(step)): number for kind, step, number in kept["steps"]}),
            reasons=Counter({Reason(reason): number for reason, number in kept["reasons"].items()}),
            not_written=[NotWritten(serial, Reason(reason)) for serial, reason in kept["not_written"]],
            examples=[_letter(rows) for rows in kept["examples"]],
            unusual=Unusual(kept["unusual"]) if kept["unusual"] else None,
        )


def _letter(rows: Sequence[Sequence[Any]]) -> tuple[Travelling, ...]:
    return tuple(
        Travelling(piece, ServiceKind(kind), Step(step), date.fromisoformat(day)) for piece, kind, step, day in rows
    )
