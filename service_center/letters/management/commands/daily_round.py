"""`daily_round`: one pass over the book for a day."""

import json
from argparse import ArgumentParser, RawDescriptionHelpFormatter
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from service_center.letters.actions import daily_round


class Command(BaseCommand):
    help = (
        "Turns due dates into reminders, and reminders into letters, for one day. Run again, it writes nothing twice.\n\n"
        "Example:\n  python manage.py daily_round --as-of 2026-11-25 --dry-run --json"
    )

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        return super().create_parser(prog_name, subcommand, formatter_class=RawDescriptionHelpFormatter, **kwargs)

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--as-of", type=date.fromisoformat, metavar="DATE", help="the day (default: today)")
        parser.add_argument("--dry-run", action="store_true", help="says what the round would do, and writes nothing")
        parser.add_argument("--json", action="store_true", help="prints one JSON document")

    def handle(self, *args: Any, **options: Any) -> None:
        as_of = options["as_of"] or timezone.localdate()
        result = daily_round(as_of=as_of, now=timezone.now(), dry_run=options["dry_run"])
        if options["json"]:
            record = {
                "reminders": result.reminders,
                "letters": result.letters,
                "not_written": [{"serial": one.serial, "reason": one.reason.value} for one in result.not_written],
            }
            self.stdout.write(json.dumps(record, ensure_ascii=False))
            return
        would = " would be" if options["dry_run"] else ""
        self.stdout.write(f"{as_of}: {result.letters} letters with {result.reminders} reminders{would} written.")
        for one in result.not_written:
            self.stdout.write(f"not written: {one.serial}: {one.reason}")
