"""`after_restore`: what went out after the backup was made does not go again, and who was erased stays so."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from service_center.access.management.command import HouseCommand
from service_center.keeping.actions import Journals, of_this_machine, replay_journals
from service_center.keeping.management.journals import UNHEARD, add_journals, there, told
from service_center.letters.actions import go_on


class Command(HouseCommand):
    help = (
        "After a backup was brought back by other means than `restore`, and before any worker starts: holds every\n"
        "letter that it has as waiting, marks as sent what the sent journals know to be out, and erases again whom the\n"
        "erasure journals name. Give the journals of each machine; without any, they are this machine's, and where it has\n"
        "none the letters are held all the same. Run again, it changes nothing. The desk has a page on which it lets the\n"
        "held letters go, or ends them; --go-on lets all of them go from here, also after `restore`.\n\n"
        "Example:\n  python manage.py after_restore /srv/old/sent.journal --erasures /srv/old/erased.journal --json\n"
        "  python manage.py after_restore --go-on"
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("journals", nargs="*", type=Path, metavar="FILE", help="a sent journal")
        add_journals(parser)
        parser.add_argument("--go-on", action="store_true", help="lets the held letters go; reads no journal")
        parser.add_argument("--json", action="store_true", help="prints one JSON document")

    def handle(self, *args: Any, **options: Any) -> None:
        done = self._go_on(options) if options["go_on"] else self._hold_and_replay(options)
        self.stdout.write(json.dumps(done) if options["json"] else ", ".join(f"{n} {k}" for k, n in done.items()))

    def _go_on(self, options: dict[str, Any]) -> dict[str, int]:
        if options["journals"] or options["erasures"]:
            raise CommandError("--go-on takes no journal", returncode=2)
        return {"released": go_on(by=None, now=timezone.now())}

    def _hold_and_replay(self, options: dict[str, Any]) -> dict[str, Any]:
        named, own = there(options["journals"], options["erasures"]), of_this_machine()
        journals = Journals(named.sent or own.sent, named.erased or own.erased)
        done = replay_journals(journals, now=timezone.now(), complain=self.stderr.write)
        if not journals.sent:
            self.stderr.write(UNHEARD)
        return told(done)
