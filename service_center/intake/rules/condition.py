"""The condition in which a piece comes in: part by part, on a scale of words. Common practice; the scale is ours."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from service_center.book.rules import Complexity


class Part(StrEnum):
    """A part that is looked at over the counter, from the outside."""

    CRYSTAL = "crystal"
    BEZEL = "bezel"
    CROWN = "crown"
    PUSHERS = "pushers"
    CASE = "case"
    LUGS = "lugs"
    BACK = "back"
    STRAP = "strap"  # bracelet or strap
    CLASP = "clasp"
    DIAL = "dial"
    HANDS = "hands"


class Grade(StrEnum):
    """How a part is, from nothing to note to not there."""

    AS_WORN = "as_worn"
    LIGHT_MARKS = "light_marks"
    DEEP_MARKS = "deep_marks"
    DAMAGED = "damaged"
    MISSING = "missing"


WITH_PUSHERS = frozenset({Complexity.CHRONOGRAPH, Complexity.COMPLICATED})


@dataclass(frozen=True, slots=True)
class PartNoted:
    """One part as it was seen."""

    part: Part
    grade: Grade
    remark: str = ""

    @property
    def stands_out(self) -> bool:
        """Whether there is anything to say of it."""
        return self.grade is not Grade.AS_WORN or bool(self.remark)


@dataclass(frozen=True, slots=True)
class Condition:
    """Every part of a piece as it was seen, in the order in which one looks. Empty: nobody looked."""

    parts: tuple[PartNoted, ...] = ()

    @property
    def standing_out(self) -> tuple[PartNoted, ...]:
        """The parts with something to say of them."""
        return tuple(one for one in self.parts if one.stands_out)

    def record(self) -> list[dict[str, str]]:
        """As JSON, to be kept with the drop-off."""
        return [{"part": one.part.value, "grade": one.grade.value, "remark": one.remark} for one in self.parts]

    @classmethod
    def from_record(cls, record: Sequence[Mapping[str, Any]]) -> "Condition":
        """The condition that `record` wrote down."""
        return cls(tuple(PartNoted(Part(row["part"]), Grade(row["grade"]), row["remark"]) for row in record))


def parts_of(complexity: str) -> tuple[Part, ...]:
    """The parts to look at. Pushers where the calibre has or may have them: unknown counts as may."""
    without = complexity and complexity not in WITH_PUSHERS
    return tuple(part for part in Part if not (without and part is Part.PUSHERS))
