"""The day that a counter offers: from the benches' load where there are benches, else the house's usual time."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from service_center.book.models import Boutique, Piece
from service_center.book.rules import Complexity
from service_center.intake.rules import ORDERED, Asked, usual_days
from service_center.intake.terms.queries import Days, complexity_of, table, terms_for
from service_center.planning.queries.promising import House, NoQuote, house_on, quote_on
from service_center.planning.rules.promising.values import Quote
from service_center.workshop.orders.rules.kinds import kind_of


@dataclass(frozen=True, slots=True)
class Offer:
    """The house's usual day, and the days that the benches' load gives; `why_not`: why it gives none.

    `half_by`, `nine_in_ten_by`: days on which the piece can be handed back. `orders_before`: those the benches do first.
    """

    usual_days: int
    usual_day: date
    half_by: date | None = None
    nine_in_ten_by: date | None = None
    orders_before: int = 0
    why_not: NoQuote | None = None

    @property
    def day(self) -> date:
        """What is offered to the owner."""
        return self.nine_in_ten_by or self.usual_day


def offer_for(
    piece: Piece, boutique: Boutique, taken_on: date, asked: Collection[Asked], house: House | None = None
) -> Offer:
    """What to promise for a piece at a boutique. Twenty-four statements at most.

    `house`: as it stood on a day that is over; otherwise as it stands now.
    """
    days = usual_days(asked, terms_for(piece))
    rated = bool(piece.model and piece.model.rated_bar)
    house = house or house_on(taken_on)
    return _offer(Days.of(boutique, taken_on), house, days, asked, complexity_of(piece), rated=rated)


def offer_of_house(taken_on: date, asked: Asked, complexity: Complexity, house: House | None = None) -> Offer:
    """What to promise for such a piece at no boutique in particular. Twenty-two statements at most; `house` as above."""
    days = table()[asked, complexity].days
    return _offer(Days.of_house(taken_on), house or house_on(taken_on), days, [asked], complexity, rated=True)


def _offer(
    days: Days, house: House, usual: int, asked: Collection[Asked], complexity: Complexity, *, rated: bool
) -> Offer:
    taken_on = house.as_of
    usual_day = days.after(taken_on, usual)
    kind = kind_of([ORDERED[one] for one in asked])
    found = quote_on(house, kind, complexity, rated=rated, usual_day=usual_day)
    if not isinstance(found, Quote):
        return Offer(usual, usual_day, why_not=found)
    half, nine = (day and days.after(day, 0) for day in (found.half_by, found.nine_in_ten_by))
    return Offer(usual, usual_day, half, nine, found.orders_before)
