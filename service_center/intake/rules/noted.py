"""What is noted of a piece that is taken in, beside what its owner says."""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from service_center.intake.rules.condition import Condition
from service_center.intake.rules.terms import Estimate


@dataclass(frozen=True, slots=True)
class Money:
    """An amount and its currency (ISO 4217)."""

    amount: Decimal
    currency: str


@dataclass(frozen=True, slots=True)
class Noted:
    """Condition, declared value, the promised day and the estimate; empty where nobody said.

    `quoted_on`: the day by which nine in ten such orders would be ready, as it was worked out for the promise.
    """

    condition: Condition = field(default_factory=Condition)
    declared: Money | None = None
    promised_on: date | None = None
    estimate: Estimate | None = None
    quoted_on: date | None = None
