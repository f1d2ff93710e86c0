"""import_book: a book in from files (outside.md)."""

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser
from tqdm import tqdm

from service_center.access.management.command import HouseCommand
from service_center.exchange import actions
from service_center.exchange.rules import NAMES, Faults
from service_center.intervals.management.arguments import add_as_of, day_asked_for

ABOUT = f"""Reads a book's CSV files from a folder, those that are there, and writes them into the book: all or nothing.

Files: {", ".join(NAMES)}.
UTF-8, comma or semicolon, a header row with every column; an empty cell means "not known". The same files twice
change nothing. Each fault is one line on stderr: file, line, column, reason; nothing is written then (exit 2).
What an owner corrected is kept where owners.csv still says what stood before; each such cell is a warning.
Text that a spreadsheet would take for a formula is kept as text, with a warning.

Examples:
  python manage.py import_book ./book --dry-run
  python manage.py import_book ./book --json > counts.json
"""


class Command(HouseCommand):
    """Reads a folder of CSV files into the book."""

    help = ABOUT

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", metavar="DIR", type=Path, help="the folder with the CSV files")
        parser.add_argument("--dry-run", action="store_true", help="say what would change, and write nothing")
        parser.add_argument("--json", action="store_true", help="one JSON document on stdout, and nothing else")
        add_as_of(parser)

    def handle(self, *args: Any, **options: Any) -> None:
        folder: Path = options["folder"]
        if not folder.is_dir():
            raise CommandError(f"{folder} is not a folder", returncode=2)
        as_of = day_asked_for(options["as_of"])
        with _bar(folder) as bar:
            try:
                result = actions.import_book(
                    folder, dry_run=options["dry_run"], by=None, as_of=as_of, progress=_progress_on(bar)
                )
            except actions.NoFilesError as error:
                raise CommandError(str(error), returncode=2) from error
        if result.faults.count:
            self._complain(result.faults, "")
            sys.exit(2)
        self._complain(result.warnings, "warning: ")
        if result.corrections_kept or result.corrections_overwritten:
            self.stderr.write(
                f"warning: owners.csv: of the particulars that were corrected here, {result.corrections_kept:,} "
                f"are kept and {result.corrections_overwritten:,} overwritten"
            )
        counts = {
            stem: {"added": found.added, "changed": found.changed, "same": found.same}
            for stem, found in result.counts.items()
        }
        if options["json"]:
            self.stdout.write(json.dumps(counts))
            return
        for stem, found in counts.items():
            self.stdout.write(f"{stem}: " + ", ".join(f"{number:,} {word}" for word, number in found.items()))
        if options["dry_run"]:
            self.stdout.write("Nothing was written: this was a dry run.")

    def _complain(self, faults: Faults, kind: str) -> None:
        for fault in faults.first:
            self.stderr.write(f"{kind}{fault}")
        if faults.more:
            self.stderr.write(f"{kind}and {faults.more:,} more")


def _bar(folder: Path) -> "tqdm[Any]":
    """How far the reading is, on a terminal only."""
    size = sum((folder / name).stat().st_size for name in NAMES if (folder / name).is_file())
    return tqdm(total=size, unit="B", unit_scale=True, leave=False, disable=not sys.stderr.isatty())


def _progress_on(bar: "tqdm[Any]") -> Callable[[str, int], None]:
    def show(what: str, size: int) -> None:
        bar.set_description(what, refresh=False)
        bar.update(size)

    return show
