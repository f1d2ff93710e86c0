"""list_due: what is due on a day (outside.md)."""

import json
from collections.abc import Iterable
from datetime import date
from typing import Any

from django.core.management.base import CommandError, CommandParser

from service_center.access.management.command import HouseCommand
from service_center.book.models import Piece
from service_center.book.rules import ServiceKind
from service_center.intervals import queries
from service_center.intervals.management.arguments import add_as_of, day_asked_for
from service_center.intervals.report import due_report
from service_center.intervals.rules import Due, because, state_on

EXAMPLE = """
Example:
  python manage.py list_due --as-of 2026-03-01 --kind overhaul --json > due.json
"""


class Command(HouseCommand):
    """Prints due dates as they stand in the facts dated up to a day."""

    help = "Lists what is due on a day, worked out from the facts dated up to it, ordered by serial and kind." + EXAMPLE

    def add_arguments(self, parser: CommandParser) -> None:
        add_as_of(parser)
        parser.add_argument("--kind", choices=[kind.value for kind in ServiceKind], help="only this kind of service")
        parser.add_argument("--serial", help="only the piece with this serial")
        parser.add_argument("--json", action="store_true", help="one JSON list on stdout, and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        as_of = day_asked_for(options["as_of"])
        serial = options["serial"]
        if serial is not None and not Piece.objects.filter(serial=serial).exists():
            raise CommandError(f'--serial: there is no piece "{serial}" in the book', returncode=2)
        kind = ServiceKind(options["kind"]) if options["kind"] else None
        found = queries.due_by_serial(as_of, serial=serial, kind=kind)
        if options["json"]:
            self._as_json(found, as_of)
        else:
            self._as_table(found, as_of)

    def _as_json(self, found: Iterable[tuple[str, Due]], as_of: date) -> None:
        # Written piece by piece: a whole maker's list does not fit in memory.
        joint = "[\n"
        for serial, due in found:
            self.stdout.write(joint + json.dumps(due_report(serial, due, as_of), ensure_ascii=False), ending="")
            joint = ",\n"
        self.stdout.write("[]" if joint == "[\n" else "\n]")

    def _as_table(self, found: Iterable[tuple[str, Due]], as_of: date) -> None:
        line = "{:<20} {:<10} {:<10} {:<11} {:<11} {:<11} {:<11} {}"
        self.stdout.write(
            line.format("serial", "kind", "state", "starts", "opens", "due", "closes", "because").rstrip()
        )
        for serial, due in found:
            days = (due.start.on if due.start else None, due.opens_on, due.due_on, due.closes_on)
            shown = (day.isoformat() if day else "-" for day in days)
            state = state_on(as_of, due)
            self.stdout.write(line.format(serial, due.kind, state, *shown, because(due, as_of).sentence))
