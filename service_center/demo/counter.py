"""What Fernhollow's counters promise and estimate, and in what state pieces come in."""

import random
from datetime import date, timedelta
from decimal import Decimal

from babel.numbers import get_currency_precision
from django.conf import settings

from service_center.access.models import Staff
from service_center.book.models import Boutique, Piece
from service_center.book.rules import Complexity
from service_center.guarantee.queries import decision_of
from service_center.intake import money
from service_center.intake.rules import (
    Asked,
    Condition,
    Grade,
    Money,
    Noted,
    Part,
    PartNoted,
    UsualTerm,
    estimate_of,
    parts_of,
)
from service_center.intake.terms.actions import keep_terms, version_of
from service_center.intake.terms.offering import Offer, offer_for
from service_center.intake.terms.queries import complexity_of, table, terms_for
from service_center.planning.queries.promising import house_then

# A repair is estimated after opening.
PRICES = {
    Asked.OVERHAUL: dict(zip(Complexity, ("480", "560", "890", "1900"), strict=True)),
    Asked.CHECK: dict(zip(Complexity, ("60", "60", "80", "120"), strict=True)),
    Asked.BATTERY: dict.fromkeys(Complexity, "70"),
    Asked.STRAP: dict.fromkeys(Complexity, "110"),
}
SEEN = (
    (),
    (PartNoted(Part.CRYSTAL, Grade.LIGHT_MARKS), PartNoted(Part.CASE, Grade.LIGHT_MARKS, "at nine o'clock")),
    (PartNoted(Part.BEZEL, Grade.DEEP_MARKS), PartNoted(Part.CLASP, Grade.LIGHT_MARKS)),
    (PartNoted(Part.CROWN, Grade.DAMAGED, "does not screw down"),),
)
VALUES = (None, "1900", "3400", "5200")


def set_terms(by: Staff) -> None:
    """The desk's table: the house's usual days, and Fernhollow's prices."""
    before = table()
    priced = {
        (asked, one): UsualTerm(term.days, Decimal(PRICES[asked][one]) if asked in PRICES else None)
        for (asked, one), term in before.items()
    }
    keep_terms(priced, seen=version_of(before), by=by)


def _declared(value: str | None, boutique: Boutique) -> Money | None:
    """What an owner says it is worth; where money has no small change, a piece costs more of it."""
    if value is None:
        return None
    currency = money.currencies(boutique.country)[0]
    return Money(Decimal(value) * (150 if get_currency_precision(currency) == 0 else 1), currency)


def offered(piece: Piece, boutique: Boutique, asked: list[Asked], day: date) -> Offer:
    """What the counter worked out for the owner on a day, from the orders that were in the house then."""
    return offer_for(piece, boutique, day, asked, house_then(day))


def noted(
    dice: random.Random, piece: Piece, boutique: Boutique, asked: list[Asked], day: date, offer: Offer | None = None
) -> Noted:
    """What a counter noted of a piece that came in on a day, and promised."""
    complexity = complexity_of(piece)
    standing_out = {one.part: one for one in dice.choice(SEEN)}
    parts = parts_of(complexity)
    value, terms = dice.choice(VALUES), terms_for(piece)
    decision = decision_of(piece, day, country=boutique.country)
    offer = offer or offered(piece, boutique, asked, day)
    return Noted(
        Condition(tuple(standing_out.get(part, PartNoted(part, Grade.AS_WORN)) for part in parts)),
        _declared(value, boutique),
        max(offer.day, day + timedelta(days=1)),
        estimate_of(asked, terms, decision.covered_by, currency=settings.HOUSE_CURRENCY),
        offer.nine_in_ten_by,
    )
