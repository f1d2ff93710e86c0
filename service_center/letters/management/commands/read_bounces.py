"""`read_bounces`: what the tick reads of what came back, by hand."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import CommandError
from django.utils import timezone

from service_center.access.management.command import HouseCommand
from service_center.letters.actions import read_returned
from service_center.letters.rules.words import FoundInMail


class Command(HouseCommand):
    help = (
        "Reads reports about letters that came back: from the mailbox of BOUNCE_MAILBOX_URL and the folder of\n"
        "BOUNCE_FOLDER, or from --folder. An owner whose mail program asks there for no more letters gets none, nor does\n"
        "one who called a letter unwanted, as mailbox providers tell (RFC 5965). Each message counts once, however often\n"
        "it is read; none is changed.\n\n"
        "Example:\n  python manage.py read_bounces --folder /srv/mail/bounces --json"
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--folder", type=Path, metavar="DIR", help="a folder of .eml files, or a Maildir")
        parser.add_argument("--json", action="store_true", help="prints one JSON document")

    def handle(self, *args: Any, **options: Any) -> None:
        folder = options["folder"]
        if folder is not None and not folder.is_dir():
            raise CommandError(f"--folder: {folder}: no such folder", returncode=2)
        if folder is None and not (settings.BOUNCE_MAILBOX_URL or settings.BOUNCE_FOLDER):
            raise CommandError(
                "Nowhere to read: set BOUNCE_MAILBOX_URL or BOUNCE_FOLDER, or say --folder", returncode=2
            )
        looked = read_returned(now=timezone.now(), folder=folder)
        counts = {found.value: looked.found[found] for found in FoundInMail} | {"known": looked.known}
        self.stdout.write(json.dumps(counts) if options["json"] else ", ".join(f"{n} {k}" for k, n in counts.items()))
        if looked.trouble:
            raise CommandError(looked.trouble)
