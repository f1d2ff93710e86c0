"""`restore`: a backup into an empty site (outside.md)."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.utils import timezone

from service_center.access.management.command import HouseCommand
from service_center.keeping.actions import Restored, restore
from service_center.keeping.management.journals import UNHEARD, add_journals, in_words, there, told
from service_center.keeping.management.refusing import refusing
from service_center.letters import journal


class Command(HouseCommand):
    help = (
        "Brings a backup back into this site, which must be empty. It is tried first, as verify_backup does. Nobody is\n"
        "signed in then; letters that waited are held until the desk lets them go on its page; what the sent journals\n"
        "know to be out does not go again; whoever the erasure journals name is erased again. This machine's journals in\n"
        "DATA_DIR and those in the backup are read by themselves: name those of other machines. A restore that is cut\n"
        "off is run again. SQLite goes to SQLite, and PostgreSQL to PostgreSQL; the book alone goes across with\n"
        "export_book and import_book. Restore no file that the house did not make: a database's dump can do anything.\n\n"
        "Example:\n"
        "  python manage.py restore /backups/house-2026-06-05.zip --sent /mnt/web2/sent.journal "
        "--erasures /mnt/web2/erased.journal"
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", help="a backup")
        parser.add_argument(
            "--sent", action="append", default=[], type=Path, metavar="FILE", help="a sent journal; repeat it"
        )
        add_journals(parser)
        parser.add_argument("--json", action="store_true", help="prints one JSON document")

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"]
        journals = there(options["sent"], options["erasures"])
        # Asked before: the backup may bring an old one.
        unheard = not journals.sent and not journal.file().is_file()
        with refusing():
            done = restore(file, journals, now=timezone.now(), say=self.stderr.write, complain=self.stderr.write)
        if unheard:
            self.stderr.write(UNHEARD)
        self.stdout.write(json.dumps(_told(file, done)) if options["json"] else _in_words(file, done))


def _told(file: Path, done: Restored) -> dict[str, Any]:
    return {
        "file": str(file),
        "made_at": done.manifest.made_at.isoformat(),
        "rows": sum(done.manifest.contents.rows.values()),
        "files": len(done.manifest.files),
        "migrated": done.migrated,
        "photographs_missing": done.photographs_missing,
        "settings_differ": done.settings_differ,
        **told(done.journals),
    }


def _in_words(file: Path, done: Restored) -> str:
    contents = done.manifest.contents
    first = (
        f"{file}, of {done.manifest.made_at:%Y-%m-%d %H:%M} UTC, is this site now: "
        f"{sum(contents.rows.values()):,} rows, {len(done.manifest.files):,} files, {done.migrated} migrations since"
    )
    lines = [
        first,
        *in_words(done.journals),
        "Nobody is signed in. The desk looks through the letters that are held and decides: Letters, held since a backup",
    ]
    if done.settings_differ:
        lines.append(f"Settings that were otherwise then: {', '.join(done.settings_differ)}")
    return "\n".join(lines)
