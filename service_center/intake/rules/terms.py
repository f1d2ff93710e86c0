"""The house's usual time and price by what is asked and how complex the calibre is: the promise and the estimate.

The usual days below stand until the desk writes its own; they are common practice. The house has no usual price until
the desk writes one: then the work is estimated after opening. (A promise from the benches' real load is planning's.)
"""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum
from typing import Any

from service_center.book.rules import Complexity
from service_center.guarantee.rules import CoveredBy
from service_center.intake.rules.counter import Asked

# Working days from the counter to the counter.
USUAL_DAYS = {
    Asked.BATTERY: dict.fromkeys(Complexity, 3),
    Asked.STRAP: dict.fromkeys(Complexity, 2),
    Asked.CHECK: dict.fromkeys(Complexity, 5),
    Asked.REPAIR: {
        Complexity.SIMPLE: 15,
        Complexity.AUTOMATIC: 15,
        Complexity.CHRONOGRAPH: 25,
        Complexity.COMPLICATED: 40,
    },
    Asked.OVERHAUL: {
        Complexity.SIMPLE: 20,
        Complexity.AUTOMATIC: 25,
        Complexity.CHRONOGRAPH: 35,
        Complexity.COMPLICATED: 60,
    },
}
# A guarantee pays for faults; wear, cells and the regular overhaul are the owner's. Common practice.
FAULTS = frozenset({Asked.CHECK, Asked.REPAIR})
# No promise runs on for longer: a table that asks for more is a slip of the pen.
MOST_DAYS = 400


@dataclass(frozen=True, slots=True)
class UsualTerm:
    """One line of the house's table. `price` None: estimated after opening."""

    days: int
    price: Decimal | None = None


class Price(StrEnum):
    """Who set an amount: the house's table, the guarantee, or a member of staff."""

    TABLE = "table"
    GUARANTEE = "guarantee"
    STAFF = "staff"


@dataclass(frozen=True, slots=True)
class Line:
    """One line of an estimate. `amount` None: to be estimated after opening."""

    asked: Asked
    amount: Decimal | None
    because: Price = Price.TABLE


@dataclass(frozen=True, slots=True)
class Estimate:
    """What the work is likely to cost, in the house's currency (ISO 4217)."""

    currency: str
    lines: tuple[Line, ...]

    @property
    def total(self) -> Decimal:
        """The sum of the lines that have an amount."""
        return sum((one.amount for one in self.lines if one.amount is not None), Decimal(0))

    @property
    def is_whole(self) -> bool:
        """Whether every line has an amount."""
        return all(one.amount is not None for one in self.lines)

    def record(self) -> dict[str, Any]:
        """As JSON: amounts as decimal text."""
        lines = [
            {
                "asked": one.asked.value,
                "amount": None if one.amount is None else str(one.amount),
                "because": one.because.value,
            }
            for one in self.lines
        ]
        return {"currency": self.currency, "lines": lines}

    @classmethod
    def from_record(cls, record: Mapping[str, Any]) -> "Estimate":
        """The estimate that `record` wrote down."""
        return cls(
            record["currency"],
            tuple(
                Line(
                    Asked(row["asked"]),
                    None if row["amount"] is None else Decimal(row["amount"]),
                    Price(row["because"]),
                )
                for row in record["lines"]
            ),
        )


def default_term(asked: Asked, complexity: Complexity) -> UsualTerm:
    """What holds until the desk writes a line of its own."""
    return UsualTerm(USUAL_DAYS[asked][complexity])


def usual_days(asked: Collection[Asked], terms: Mapping[Asked, UsualTerm]) -> int:
    """Working days for all that is asked: done side by side, the longest decides. Nothing asked: none."""
    return max((terms[one].days for one in asked), default=0)


def promised_day(
    taken_on: date, days: int, *, is_worked: Callable[[date], bool], is_open: Callable[[date], bool]
) -> date:
    """The day that many working days after a day, then on to the next day on which the boutique can hand it back.

    A boutique that never opens within a year gets the working day itself. ValueError for days beyond MOST_DAYS.
    """
    if not 0 <= days <= MOST_DAYS:
        raise ValueError(f"{days} working days: 0 to {MOST_DAYS}")
    day, left = taken_on, days
    while left:
        day += timedelta(days=1)
        left -= is_worked(day)
    ahead = (day + timedelta(days=number) for number in range(366))
    return next((one for one in ahead if is_open(one)), day)


def estimate_of(
    asked: Collection[Asked], terms: Mapping[Asked, UsualTerm], covered_by: CoveredBy, *, currency: str
) -> Estimate:
    """The house's estimate: nothing for a fault that a guarantee covers, else the table's price."""
    covered = covered_by is not CoveredBy.NONE
    lines = (
        Line(one, Decimal(0), Price.GUARANTEE) if covered and one in FAULTS else Line(one, terms[one].price)
        for one in Asked
        if one in asked
    )
    return Estimate(currency, tuple(lines))
