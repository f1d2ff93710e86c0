"""What the counter decides from plain values. Nothing here knows a database or a clock."""

from service_center.intake.rules.condition import Condition, Grade, Part, PartNoted, parts_of
from service_center.intake.rules.counter import (
    ORDERED,
    Asked,
    Caution,
    Stop,
    cautions_for,
    number_meant,
    number_of,
    stop_for,
)
from service_center.intake.rules.noted import Money, Noted
from service_center.intake.rules.terms import (
    Estimate,
    Line,
    Price,
    UsualTerm,
    estimate_of,
    promised_day,
    usual_days,
)

__all__ = [
    "ORDERED",
    "Asked",
    "Caution",
    "Condition",
    "Estimate",
    "Grade",
    "Line",
    "Money",
    "Noted",
    "Part",
    "PartNoted",
    "Price",
    "Stop",
    "UsualTerm",
    "cautions_for",
    "estimate_of",
    "number_meant",
    "number_of",
    "parts_of",
    "promised_day",
    "stop_for",
    "usual_days",
]
