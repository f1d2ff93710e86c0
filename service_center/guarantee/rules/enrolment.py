"""Whether a piece can be registered for the extension. Source: design/intake.md, guarantee.

While the base runs, its last day included. Where that day is no working day, whether the law moves it is a
question for a person: nobody registers after it by a button.
"""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service_center.guarantee.rules.terms import HOUSE_TERMS, Terms
from service_center.intervals.rules import add_months


class EnrolmentState(StrEnum):
    """Where a piece stands with the extension."""

    OPEN = "open"
    ENROLLED = "enrolled"
    OVER = "over"
    NO_SALE_DATE = "no_sale_date"


@dataclass(frozen=True, slots=True)
class Enrolment:
    """`base_to`: the last day to register; `extended_to`: the extension's own last day. None without a day of sale."""

    state: EnrolmentState
    base_to: date | None = None
    extended_to: date | None = None


def enrolment_on(
    as_of: date, *, sold_on: date | None, enrolled_on: date | None, terms: Terms = HOUSE_TERMS
) -> Enrolment:
    """Where a piece stands on a day. All months count from the day of sale, in one step."""
    if sold_on is None or sold_on > as_of:
        return Enrolment(EnrolmentState.NO_SALE_DATE)
    base_to, extended_to = add_months(sold_on, terms.base_months), add_months(sold_on, terms.extended_months)
    if enrolled_on and sold_on <= enrolled_on <= min(base_to, as_of):
        return Enrolment(EnrolmentState.ENROLLED, base_to, extended_to)
    state = EnrolmentState.OPEN if as_of <= base_to else EnrolmentState.OVER
    return Enrolment(state, base_to, extended_to)
