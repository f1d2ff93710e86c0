"""`backup`: everything of the house into one file (outside.md)."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.utils import timezone

from service_center.access.management.command import HouseCommand
from service_center.keeping.actions import BackedUp, back_up
from service_center.keeping.management.refusing import refusing


class Command(HouseCommand):
    help = (
        "Writes everything of this house into one new file, while the site is open: the database as it is at one\n"
        "moment, photographs and papers, the wording of letters, both journals, and the settings that are no secret.\n"
        "SECRET_KEY and passwords are not in it, nor who is signed in: keep a copy of DATA_DIR/secret_key elsewhere.\n"
        "It holds what is owners' own: keep it as you keep the database. It is a zip archive; manifest.json in it\n"
        "says what it holds. On PostgreSQL it needs pg_dump. A file that is there already is never written over.\n\n"
        "Example:\n  python manage.py backup /backups/house-2026-06-05.zip --json"
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", help="the file to write; its folder must be there")
        parser.add_argument("--json", action="store_true", help="prints one JSON document")

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"]
        with refusing():
            made = back_up(file, now=timezone.now(), say=self.stderr.write)
        if options["json"]:
            self.stdout.write(json.dumps(_told(file, made)))
        else:
            self.stdout.write(_in_words(file, made))


def _told(file: Path, made: BackedUp) -> dict[str, Any]:
    contents = made.manifest.contents
    return {
        "file": str(file),
        "bytes": made.size,
        "made_at": made.manifest.made_at.isoformat(),
        "version": made.manifest.version,
        "database": made.manifest.database,
        "migrations": len(contents.migrations),
        "rows": dict(contents.rows),
        "book": dict(contents.book.records),
        "book_sha256": contents.book.sha256,
        "files": len(made.manifest.files),
        "file_bytes": sum(one.size for one in made.manifest.files.values()),
    }


def _in_words(file: Path, made: BackedUp) -> str:
    contents, files = made.manifest.contents, made.manifest.files
    book = ", ".join(f"{number:,} {stem}" for stem, number in contents.book.records.items())
    return (
        f"{file}: {made.size:,} bytes\n"
        f"{sum(contents.rows.values()):,} rows in {len(contents.rows)} tables; the book: {book}\n"
        f"{len(files):,} files of photographs and papers, {sum(one.size for one in files.values()):,} bytes\n"
        f"Try it with verify_backup, and keep DATA_DIR/secret_key elsewhere: no secret is in it."
    )
