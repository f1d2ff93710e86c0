"""promise_date: what the counter would tell an owner today (outside.md)."""

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from service_center.access.management.command import HouseCommand
from service_center.book.rules import Complexity
from service_center.intake.rules import ORDERED, Asked
from service_center.intake.terms.offering import Offer, offer_of_house
from service_center.intervals.management.arguments import add_as_of, day_asked_for
from service_center.planning.queries.promising import NoQuote, house_then
from service_center.workshop.orders.queries.open_then import NotKnownThenError

# As the entries of history.csv are called; "tightness" as the rules of rules.csv call it.
KINDS = {ORDERED[one].value: one for one in Asked} | {"tightness": Asked.CHECK}
EXAMPLE = """
The days by which half, and nine in ten, of such orders would be back at their boutique, from the orders in the house and
the hours of its benches. Where the book has no bench for it both are the day of the house's usual time; stderr says so.

For a day that is over the orders are those of the end of that day, by their facts: their steps, what was finished by
then, the minutes learnt up to it, and the house's table of minutes as it stood. The benches' hours, absences and closures
and the house's usual terms are those that are written today: who was known then to be away later is not kept. Where an order that was in the house then
was planned anew later (another kind, an operation added), the day is refused, since the plan it had is not kept.
For a day to come the orders stand as they do today.

Example:
  python manage.py promise_date --complexity automatic --kind overhaul --as-of 2026-11-25 --json
"""
WHY_NOT = {
    NoQuote.NO_BENCHES: "the book has neither watchmakers nor hours of skills",
    NoQuote.NO_SKILL: "the book has no bench for such pieces",
    NoQuote.AT_THE_COUNTER: "it is done at the counter, without a bench",
    NoQuote.TOO_FAR: "the benches are full for longer than their days are known",
}


class Command(HouseCommand):
    """Works out what to promise an owner."""

    help = "Says by which day an order that comes in today would be ready." + EXAMPLE

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--complexity", required=True, choices=[one.value for one in Complexity])
        parser.add_argument("--kind", required=True, choices=sorted(KINDS))
        add_as_of(parser)
        parser.add_argument("--json", action="store_true", help="one JSON document on stdout, and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        as_of = day_asked_for(options["as_of"])
        try:
            house = house_then(as_of) if as_of < timezone.localdate() else None
            offer = offer_of_house(as_of, KINDS[options["kind"]], Complexity(options["complexity"]), house)
        except NotKnownThenError as fault:
            raise CommandError(
                f"argument --as-of: what these orders were to take on {as_of} is not kept, since they were planned anew "
                f"later: {fault}",
                returncode=2,
            ) from fault
        except OverflowError as fault:
            raise CommandError(
                f"argument --as-of: no calendar goes on for years after {as_of}", returncode=2
            ) from fault
        if offer.why_not:
            self.stderr.write(
                f"The house's usual time, {offer.usual_days} working days, not worked out from the benches: "
                f"{WHY_NOT[offer.why_not]}."
            )
        if options["json"]:
            self.stdout.write(json.dumps(_document(offer)))
        else:
            self._as_text(offer)

    def _as_text(self, offer: Offer) -> None:
        found = _document(offer)
        self.stdout.write(f"half by          {found['half_by']}")
        self.stdout.write(f"nine in ten by   {found['nine_in_ten_by']}")
        self.stdout.write(f"orders before it {found['orders_before']}")


def _document(offer: Offer) -> dict[str, str | int]:
    return {
        "half_by": (offer.half_by or offer.day).isoformat(),
        "nine_in_ten_by": offer.day.isoformat(),
        "orders_before": offer.orders_before,
    }
