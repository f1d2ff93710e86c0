"""One part of the copy of an owner's data to read."""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the paper: facts, then lines, each with its day."""

    title: str
    facts: list[tuple[str, str]] = field(default_factory=list)
    lines: list[tuple[str, str]] = field(default_factory=list)


def given(*facts: tuple[str, str]) -> list[tuple[str, str]]:
    """The facts that are known."""
    return [(label, value) for label, value in facts if value]
