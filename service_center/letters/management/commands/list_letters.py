"""`list_letters`: the letters, as programs read them."""

import json
from argparse import ArgumentParser
from typing import Any

from service_center.access.management.command import HouseCommand
from service_center.letters.queries.listing import letter_records
from service_center.letters.rules.words import LetterState


class Command(HouseCommand):
    help = (
        "Lists the letters in the order in which they were written.\n\n"
        "Example:\n  python manage.py list_letters --state in_doubt --json"
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--state", choices=[state.value for state in LetterState], help="only letters in a state")
        parser.add_argument("--json", action="store_true", help="prints one JSON document")

    def handle(self, *args: Any, **options: Any) -> None:
        state = LetterState(options["state"]) if options["state"] else None
        if options["json"]:
            self.stdout.write("[", ending="")
            for at, record in enumerate(letter_records(state)):
                self.stdout.write(("," if at else "") + "\n" + json.dumps(record, ensure_ascii=False), ending="")
            self.stdout.write("\n]")
            return
        for record in letter_records(state):
            about = ", ".join(f"{one['serial']} {one['kind']} {one['step']}" for one in record["reminders"])
            line = (record["letter"], record["planned_on"], record["state"], record["owner"], about)
            self.stdout.write("  ".join(str(part) for part in line))
