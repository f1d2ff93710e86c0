"""Whether a finding is covered, by the house's table. Source of its defaults: design/intake.md; common practice
(design/facts.md, 6, typical exclusions)."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service_center.guarantee.rules.decision import CoveredBy, Decision


class Finding(StrEnum):
    """What was found at a piece, as far as a guarantee asks for its cause."""

    MANUFACTURE = "manufacture"
    OUR_WORK = "our_work"
    WATER = "water"  # the yearly checks were kept
    WATER_AFTER_MISSED_CHECK = "water_after_missed_check"
    WEAR = "wear"
    CELL = "cell"
    ACCIDENT = "accident"
    OPENED_BY_OTHERS = "opened_by_others"
    MAGNETISM = "magnetism"
    WITHIN_TOLERANCE = "within_tolerance"
    ALTERED_NUMBER = "altered_number"


@dataclass(frozen=True, slots=True)
class Row:
    """Which guarantees cover a finding. `reason`: the house's own words; empty where the usual ones stand."""

    base: bool
    extension: bool
    work: bool
    reason: str = ""

    def covered_by(self, by: CoveredBy) -> bool:
        """Whether that guarantee covers it; no guarantee covers nothing."""
        return {CoveredBy.BASE: self.base, CoveredBy.EXTENSION: self.extension, CoveredBy.WORK: self.work}.get(
            by, False
        )


Table = Mapping[Finding, Row]
NEVER = Row(base=False, extension=False, work=False)

HOUSE_TABLE: Table = {
    Finding.MANUFACTURE: Row(base=True, extension=True, work=False),
    Finding.OUR_WORK: Row(base=True, extension=True, work=True),
    Finding.WATER: Row(base=True, extension=True, work=True),
    **dict.fromkeys(
        (
            Finding.WATER_AFTER_MISSED_CHECK,
            Finding.WEAR,
            Finding.CELL,
            Finding.ACCIDENT,
            Finding.OPENED_BY_OTHERS,
            Finding.MAGNETISM,
            Finding.WITHIN_TOLERANCE,
            Finding.ALTERED_NUMBER,
        ),
        NEVER,
    ),
}


@dataclass(frozen=True, slots=True)
class FindingDecision:
    """Whether a finding is covered, and by what. `runs`: some guarantee runs at all; `last_on` is the last day of the
    one that covers it."""

    finding: Finding
    covered: bool
    by: CoveredBy
    runs: bool
    last_on: date | None


# Which guarantee is asked first: the law's order is not touched by it (design/facts.md, 6).
ORDER = (CoveredBy.BASE, CoveredBy.WORK, CoveredBy.EXTENSION)


def decide(finding: Finding, decision: Decision, table: Table = HOUSE_TABLE) -> FindingDecision:
    """The first running guarantee that covers the finding, or that none does.

    Several can run at once: our own work is covered by its guarantee while the extension covers the rest.
    """
    running = [one for by in ORDER for one in decision.covers if one.by is by and one.runs_on(decision.as_of)]
    row = table[finding]
    for cover in running:
        if row.covered_by(cover.by):
            return FindingDecision(finding, True, cover.by, True, cover.to_on)
    return FindingDecision(finding, False, CoveredBy.NONE, bool(running), None)
