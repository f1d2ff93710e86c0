"""`verify_backup`: whether a backup could be brought back (outside.md)."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.utils import timezone

from service_center.access.management.command import HouseCommand
from service_center.keeping.actions import Verified, verify
from service_center.keeping.management.refusing import refusing


class Command(HouseCommand):
    help = (
        "Tries a backup: every byte against its checksum, the database brought back into a scratch one and migrated to\n"
        "now, its rows by table and the hash of its book against the list in it. This site's own data are not touched;\n"
        "that and when it was tried is kept, and shown to managers. A backup that is damaged, cut off, or none is\n"
        "refused with the reason (exit 2). On PostgreSQL it needs pg_restore, and a user that may create databases.\n\n"
        "Example:\n  python manage.py verify_backup /backups/house-2026-06-05.zip --json"
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", help="a backup")
        parser.add_argument("--json", action="store_true", help="prints one JSON document")

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"]
        with refusing():
            found = verify(file, now=timezone.now(), say=self.stderr.write)
        self.stdout.write(json.dumps(_told(file, found)) if options["json"] else _in_words(file, found))


def _told(file: Path, found: Verified) -> dict[str, Any]:
    return {
        "file": str(file),
        "bytes": found.size,
        "made_at": found.manifest.made_at.isoformat(),
        "version": found.manifest.version,
        "rows": sum(found.manifest.contents.rows.values()),
        "files": len(found.manifest.files),
        "migrated": found.migrated,
        "book_same": found.book_same,
        "photographs_missing": found.photographs_missing,
    }


def _in_words(file: Path, found: Verified) -> str:
    contents = found.manifest.contents
    book = "the book is the same" if found.book_same else "the book was not compared, since migrations changed it"
    lines = [
        f"{file}: whole, of {found.manifest.made_at:%Y-%m-%d %H:%M} UTC, version {found.manifest.version}",
        f"{sum(contents.rows.values()):,} rows in {len(contents.rows)} tables as listed; {book}",
        f"{len(found.manifest.files):,} files as listed",
    ]
    if found.migrated:
        lines.append(f"{found.migrated} migrations came since, and ran")
    if found.photographs_missing:
        lines.append(f"{found.photographs_missing:,} photographs that the book names were lost before it was made")
    return "\n".join(lines)
