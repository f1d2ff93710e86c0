"""`after_restore`: what went out after the backup was made does not go again."""

import json
from argparse import ArgumentParser, RawDescriptionHelpFormatter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from service_center.letters import journal
from service_center.letters.actions import go_on, hold_waiting, replay
from service_center.letters.rules.journal import Gone


class Command(BaseCommand):
    help = (
        "After a backup was brought back, and before any worker starts: holds every letter that it has as waiting,\n"
        "then marks as sent what the sent journals know to be out. Give the journal of each machine that sent;\n"
        "without any, it is this machine's. Run again, it changes nothing. With --go-on the letters that are still\n"
        "held go out.\n\n"
        "Example:\n  python manage.py after_restore /srv/old/sent.journal --json\n"
        "  python manage.py after_restore --go-on"
    )

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        return super().create_parser(prog_name, subcommand, formatter_class=RawDescriptionHelpFormatter, **kwargs)

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("journals", nargs="*", type=Path, metavar="FILE", help="a sent journal")
        parser.add_argument("--go-on", action="store_true", help="lets the held letters go; reads no journal")
        parser.add_argument("--json", action="store_true", help="prints one JSON document")

    def handle(self, *args: Any, **options: Any) -> None:
        told = self._go_on(options) if options["go_on"] else self._hold_and_replay(options["journals"])
        self.stdout.write(json.dumps(told) if options["json"] else ", ".join(f"{n} {k}" for k, n in told.items()))

    def _go_on(self, options: dict[str, Any]) -> dict[str, int]:
        if options["journals"]:
            raise CommandError("--go-on takes no journal", returncode=2)
        return {"released": go_on(by=None)}

    def _hold_and_replay(self, files: list[Path]) -> dict[str, int]:
        files = files or [journal.file()]
        for file in files:
            if not file.is_file():
                raise CommandError(f"{file}: no such file", returncode=2)
        held = hold_waiting()
        done = replay(record for file in files for record in self._records(file))
        for message_id in done.unknown:
            self.stderr.write(f"{message_id}: went out to an owner, or about a piece, that the book does not have")
        return {
            "held": held.held,
            "in_doubt": held.in_doubt,
            "marked_sent": done.marked,
            "written_as_sent": done.written,
            "known": done.known,
            "unknown": len(done.unknown),
        }

    def _records(self, file: Path) -> Iterator[Gone]:
        for record in journal.read(file):
            if isinstance(record, Gone):
                yield record
            else:
                self.stderr.write(f"{file}:{record.number}:1: not a record, passed over ({record.why})")
