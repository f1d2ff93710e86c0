"""export_book: the book out into files (outside.md)."""

from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser

from service_center.access.management.command import HouseCommand
from service_center.exchange import actions
from service_center.exchange.writing_files import FolderInUseError

ABOUT = """Writes the book into a folder as CSV files; import_book of that folder into an empty site gives the same book.

UTF-8, comma, a header row; an empty cell means "not known". rules.csv is there only where the house has rules of
its own. Cells stand exactly as the book has them, also one such as =1+1: whoever opens a file in a spreadsheet
should import its columns as text, or the spreadsheet may take such a cell for a formula.

Example:
  python manage.py export_book ./book
"""


class Command(HouseCommand):
    """Writes a folder of CSV files."""

    help = ABOUT

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", metavar="DIR", type=Path, help="the folder to write into; made if need be")
        parser.add_argument("--force", action="store_true", help="overwrite the files of a book that are there already")

    def handle(self, *args: Any, **options: Any) -> None:
        folder: Path = options["folder"]
        if folder.exists() and not folder.is_dir():
            raise CommandError(f"{folder} is not a folder", returncode=2)
        try:
            counts = actions.export_book(folder, overwrite=options["force"])
        except FolderInUseError as error:
            raise CommandError(f"{error}; name an empty folder, or add --force", returncode=2) from error
        for stem, count in counts.items():
            self.stdout.write(f"{stem}: {count:,}")
