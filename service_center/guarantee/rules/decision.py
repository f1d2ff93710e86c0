"""A decision as a value: what covers, from and to which day, and why; and as a record that can be kept."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any


class CoveredBy(StrEnum):
    """What pays for an order."""

    BASE = "base"
    WORK = "work"
    EXTENSION = "extension"
    NONE = "none"


class Reason(StrEnum):
    """Why the decision is as it is; `words.py` says it to people."""

    BASE_RUNS = "base_runs"
    WORK_RUNS = "work_runs"
    EXTENSION_RUNS = "extension_runs"
    NO_SALE_DATE = "no_sale_date"
    NOT_EXTENDED = "not_extended"  # base over, nobody enrolled
    ENROLLED_LATE = "enrolled_late"
    ENROLLED_BEFORE_SALE = "enrolled_before_sale"  # one of the two dates is wrong
    EXTENSION_OVER = "extension_over"
    CHECK_MISSED = "check_missed"  # the house asks for the yearly tightness check to keep the extension


@dataclass(frozen=True, slots=True)
class Cover:
    """One guarantee's first and last day, both included. `moved_to`: its last day where that is moved on to the next
    working day (Regulation 1182/71, Art. 3(4)); the same day where it is one. Whether it moves is a question of law:
    both are shown."""

    by: CoveredBy
    from_on: date
    to_on: date
    moved_to: date

    def runs_on(self, day: date) -> bool:
        return self.from_on <= day <= self.to_on


@dataclass(frozen=True, slots=True)
class Decision:
    """What covers a piece on a day.

    `covers` has every guarantee that the piece ever had by then, running or over. `enrol_by` is the last day on which
    the extension can still be had. `perhaps` runs only if its last day moves to the next working day: staff decide.
    """

    as_of: date
    covered_by: CoveredBy
    reason: Reason
    covers: tuple[Cover, ...]
    enrol_by: date | None
    perhaps: Cover | None

    @property
    def cover(self) -> Cover | None:
        """The guarantee that pays, or None."""
        return self.of(self.covered_by)

    def of(self, by: CoveredBy) -> Cover | None:
        """That guarantee of the piece, running or over."""
        return next((one for one in self.covers if one.by is by), None)

    def record(self) -> dict[str, Any]:
        """As JSON: what was decided, to be kept with the order."""
        return {
            "as_of": self.as_of.isoformat(),
            "covered_by": self.covered_by.value,
            "reason": self.reason.value,
            "covers": [_cover_record(one) for one in self.covers],
            "enrol_by": self.enrol_by.isoformat() if self.enrol_by else None,
            "perhaps": _cover_record(self.perhaps) if self.perhaps else None,
        }


def from_record(record: dict[str, Any]) -> Decision:
    """The decision that `Decision.record` wrote down."""
    return Decision(
        as_of=date.fromisoformat(record["as_of"]),
        covered_by=CoveredBy(record["covered_by"]),
        reason=Reason(record["reason"]),
        covers=tuple(_cover(one) for one in record["covers"]),
        enrol_by=date.fromisoformat(record["enrol_by"]) if record["enrol_by"] else None,
        perhaps=_cover(record["perhaps"]) if record["perhaps"] else None,
    )


def _cover_record(one: Cover) -> dict[str, str]:
    return {
        "by": one.by.value,
        "from": one.from_on.isoformat(),
        "to": one.to_on.isoformat(),
        "moved_to": one.moved_to.isoformat(),
    }


def _cover(record: dict[str, str]) -> Cover:
    days = (date.fromisoformat(record[name]) for name in ("from", "to", "moved_to"))
    return Cover(CoveredBy(record["by"]), *days)
