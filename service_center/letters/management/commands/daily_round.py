"""`daily_round`: one pass over the book for a day."""

import json
from argparse import ArgumentParser
from typing import Any

from django.utils import timezone

from service_center.access.management.command import HouseCommand
from service_center.intervals.management.arguments import iso_day
from service_center.letters.actions import RoundResult, daily_round
from service_center.letters.rules.unusual import Asked
from service_center.letters.rules.words import Unusual

HELD = {
    Unusual.BEHIND: "its day lies behind that of the last round",
    Unusual.AHEAD: "its day lies more than a week ahead of the last round",
    Unusual.MANY: "they are far more than usual",
    Unusual.RESTORED: "a backup was brought back, and some of them may have gone out after it was made",
}


class Command(HouseCommand):
    help = (
        "Turns due dates into reminders, and reminders into letters, for one day. Run again, it writes nothing twice.\n"
        "An unusual round (its day lies behind the last, or more than a week ahead; far more letters than usual; the\n"
        "first after a restore) is held for the desk, who lets it go or takes it back; with --confirmed somebody has\n"
        "looked at it already.\n\n"
        "Example:\n  python manage.py daily_round --as-of 2026-11-25 --dry-run --json"
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--as-of", type=iso_day, metavar="DATE", help="the day (default: today)")
        parser.add_argument("--dry-run", action="store_true", help="says what the round would do, and writes nothing")
        parser.add_argument("--confirmed", action="store_true", help="an unusual round is not held for the desk")
        parser.add_argument("--json", action="store_true", help="prints one JSON document")

    def handle(self, *args: Any, **options: Any) -> None:
        as_of = options["as_of"] or timezone.localdate()
        asked = Asked.CONFIRMED if options["confirmed"] else Asked.BY_HAND
        result = daily_round(as_of=as_of, now=timezone.now(), asked=asked, dry_run=options["dry_run"])
        if result.held:
            self.stderr.write(f"The letters of this round are held for the desk: {HELD[result.held]}.")
        if options["json"]:
            self._print_json(result)
            return
        would = " would be" if options["dry_run"] else ""
        self.stdout.write(f"{as_of}: {result.letters} letters with {result.reminders} reminders{would} written.")
        for one in result.not_written:
            self.stdout.write(f"not written: {one.serial}: {one.reason}")

    def _print_json(self, result: RoundResult) -> None:
        """One document, written as it is read: the pieces left out may be as many as the book has."""
        self.stdout.write(
            f'{{"reminders": {result.reminders}, "letters": {result.letters}, "not_written": [', ending=""
        )
        for at, one in enumerate(result.not_written):
            record = json.dumps({"serial": one.serial, "reason": one.reason.value}, ensure_ascii=False)
            self.stdout.write((", " if at else "") + record, ending="")
        self.stdout.write("]}")
