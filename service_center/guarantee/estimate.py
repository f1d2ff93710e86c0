"""An estimate as a value: lines with prices, which of them a guarantee covers, and what the owner pays.

Whoever knows the work (a drop-off, later a work order) fills it; `papers.estimate` prints it. Prices are decimal, tax
included or not as the house says in `note`; one currency an estimate.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Line:
    """One line: what is done, for how much, whether a guarantee covers it, and why. `price` None: after opening."""

    what: str
    price: Decimal | None
    covered: bool = False
    because: str = ""

    def __post_init__(self) -> None:
        if self.price is not None and (not self.price.is_finite() or self.price < 0):
            raise ValueError(f"a price is 0 or more, not {self.price}")

    @property
    def to_pay(self) -> Decimal | None:
        """What the owner pays for it; nothing where it is covered."""
        return Decimal(0) if self.covered else self.price


@dataclass(frozen=True, slots=True)
class Estimate:
    """One estimate to one owner. `valid_until` is its last day, included."""

    number: str
    made_on: date
    valid_until: date
    currency: str
    lines: Sequence[Line]
    notes: Sequence[str] = field(default_factory=tuple)

    @property
    def total(self) -> Decimal:
        """What the owner pays for the lines that have a price."""
        return sum((one.to_pay or Decimal(0) for one in self.lines), Decimal(0)).quantize(CENT)

    @property
    def is_open(self) -> bool:
        """Whether some line can be priced only after opening: the total is no last word then."""
        return any(one.to_pay is None for one in self.lines)
