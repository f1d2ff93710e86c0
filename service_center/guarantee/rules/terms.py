"""What the house promises, and the work it counts. Months are the house's; common practice (design/facts.md, 6)."""

from dataclasses import dataclass
from datetime import date

from service_center.book.rules import DoneBy, EntryKind


@dataclass(frozen=True, slots=True)
class Terms:
    """Months from the day of sale (base, extended) and from the day of a service (work)."""

    base_months: int = 24
    extended_months: int = 96
    work_months: int = 24


HOUSE_TERMS = Terms()


@dataclass(frozen=True, slots=True)
class Work:
    """One history entry, as far as a guarantee asks."""

    done_on: date
    kind: EntryKind
    case_opened: bool
    done_by: DoneBy

    @property
    def carries_guarantee(self) -> bool:
        """Our own work on the movement or the case; a strap, or a test without opening, carries none."""
        on_the_piece = self.kind in (EntryKind.OVERHAUL, EntryKind.REPAIR, EntryKind.BATTERY) or self.case_opened
        return self.done_by is DoneBy.OWN and on_the_piece
