"""What is known of one piece, as plain values."""

from dataclasses import dataclass
from datetime import date

from service_center.book.rules import EntryKind, Status, Tightness, Use
from service_center.measurements.rules import Wind


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that was done. `counts`: by our own workshop, or outside and accepted by the desk.

    `voids` is the code of a wrong entry that this one corrects.
    """

    code: str
    done_on: date
    kind: EntryKind
    case_opened: bool
    tightness: Tightness
    counts: bool
    voids: str | None = None

    @property
    def passed(self) -> bool:
        """A pass from outside that the desk has not accepted counts as no pass."""
        return self.counts and self.tightness is Tightness.PASSED


@dataclass(frozen=True, slots=True)
class Move:
    """A piece changed hands: into the house's (a boutique's or the workshop's), or back to its owner's."""

    on: date
    into_the_house: bool


@dataclass(frozen=True, slots=True)
class Amplitude:
    """One amplitude that was read, in degrees; the position as ISO 3158 writes it.

    `until`: the day of a later sheet that corrects the one it stands on; from then on it does not count.
    """

    taken_on: date
    wind: Wind
    position: str
    degrees: float
    until: date | None = None

    def counts_on(self, day: date) -> bool:
        """Whether it was read by that day, and not yet corrected."""
        return self.taken_on <= day and (self.until is None or day < self.until)


@dataclass(frozen=True, slots=True)
class PieceFacts:
    """One piece. Empty calibre, reference, dates or use: not known. `rated`: its model has a pressure rating.

    `history` is in any order; `moves` are in the order in which they happened.
    """

    serial: str
    reference: str
    calibre: str
    rated: bool
    made_on: date | None
    sold_on: date | None
    use: Use | None
    status: Status
    moves: tuple[Move, ...]
    history: tuple[Entry, ...]
    amplitudes: tuple[Amplitude, ...] = ()

    @property
    def in_workshop(self) -> bool:
        """Whether the house holds the piece: taken in and not yet handed back."""
        return bool(self.moves) and self.moves[-1].into_the_house

    def known_on(self, as_of: date) -> "PieceFacts":
        """The facts dated up to a day; those dated after it do not exist yet, nor those that one of them voids."""
        dated = [entry for entry in self.history if entry.done_on <= as_of]
        voided = {entry.voids for entry in dated}
        return PieceFacts(
            serial=self.serial,
            reference=self.reference,
            calibre=self.calibre,
            rated=self.rated,
            made_on=self.made_on if self.made_on and self.made_on <= as_of else None,
            sold_on=self.sold_on if self.sold_on and self.sold_on <= as_of else None,
            use=self.use,
            status=self.status,
            moves=tuple(move for move in self.moves if move.on <= as_of),
            history=tuple(entry for entry in dated if entry.code not in voided),
            amplitudes=tuple(one for one in self.amplitudes if one.counts_on(as_of)),
        )
