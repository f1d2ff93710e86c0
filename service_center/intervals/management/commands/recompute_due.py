"""recompute_due: works out anew what is stored (outside.md)."""

import json
from time import monotonic
from typing import Any

from django.core.management.base import CommandError, CommandParser
from tqdm import tqdm

from service_center.access.management.command import HouseCommand
from service_center.book.models import Piece
from service_center.intervals.actions import recompute
from service_center.intervals.management.arguments import add_as_of, day_asked_for

EXAMPLE = """
Example:
  python manage.py recompute_due --json
"""


class Command(HouseCommand):
    """Stores the due dates of one piece, or of the whole book."""

    help = "Works out the stored due dates anew, from the facts dated up to a day." + EXAMPLE

    def add_arguments(self, parser: CommandParser) -> None:
        add_as_of(parser)
        parser.add_argument("--serial", help="only the piece with this serial; the whole book without it")
        parser.add_argument("--json", action="store_true", help="one JSON document on stdout, and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        as_of = day_asked_for(options["as_of"])
        ids = self._pieces(options["serial"])
        started = monotonic()
        with tqdm(total=len(ids) if ids else Piece.objects.count(), unit=" pieces", disable=None, leave=False) as bar:
            done = recompute(ids, as_of=as_of, progress=bar.update)
        seconds = round(monotonic() - started, 3)
        if options["json"]:
            self.stdout.write(json.dumps({"pieces": done.pieces, "seconds": seconds}))
        else:
            self.stdout.write(f"{done.pieces} pieces in {seconds:.1f} s, as of {as_of}")

    def _pieces(self, serial: str | None) -> list[int] | None:
        if serial is None:
            return None
        ids = list(Piece.objects.filter(serial=serial).values_list("pk", flat=True))
        if not ids:
            raise CommandError(f'--serial: there is no piece "{serial}" in the book', returncode=2)
        return ids
