"""What the house promises, and the work it counts. Months are the house's; common practice (design/facts.md, 6)."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from service_center.book.rules import DoneBy, EntryKind


@dataclass(frozen=True, slots=True)
class Terms:
    """Months from the day of sale (base, extended) and from the day of a service (work).

    `check_months`: how old the last passed tightness check of a rated piece may grow while its extension runs; None
    where the house does not ask for checks.
    """

    base_months: int = 24
    extended_months: int = 96
    work_months: int = 24
    check_months: int | None = None


HOUSE_TERMS = Terms()


@dataclass(frozen=True, slots=True)
class DatedTerms:
    """Terms and the day from which they are given: a promise binds as it stood when it was made."""

    from_on: date
    terms: Terms


def terms_on(day: date, dated: Iterable[DatedTerms]) -> Terms:
    """The terms in force on a day of sale or of work: those begun last by then (of one day, the last given); before
    the first, HOUSE_TERMS."""
    begun = sorted((one for one in dated if one.from_on <= day), key=lambda one: one.from_on)
    return begun[-1].terms if begun else HOUSE_TERMS


@dataclass(frozen=True, slots=True)
class Work:
    """One history entry, as far as a guarantee asks. `passed_check`: its tightness test passed and counts."""

    done_on: date
    kind: EntryKind
    case_opened: bool
    done_by: DoneBy
    passed_check: bool = False

    @property
    def carries_guarantee(self) -> bool:
        """Our own work on the movement or the case; a strap, or a test without opening, carries none."""
        on_the_piece = self.kind in (EntryKind.OVERHAUL, EntryKind.REPAIR, EntryKind.BATTERY) or self.case_opened
        return self.done_by is DoneBy.OWN and on_the_piece
