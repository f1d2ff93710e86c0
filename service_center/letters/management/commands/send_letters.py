"""`send_letters`: what the worker does, by hand."""

import json
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone
from tqdm import tqdm

from service_center.access.management.command import HouseCommand
from service_center.intervals.management.arguments import iso_day
from service_center.letters.actions import send_waiting


class Command(HouseCommand):
    help = (
        "Hands over letters whose morning has come: a few, or with --until-empty all of them. An invitation that found\n"
        "no sender in its morning waits for the next one of its owner. Letters in doubt are never sent again by\n"
        "themselves.\n\n"
        "Example:\n  python manage.py send_letters --until-empty --json"
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--until-empty", action="store_true", help="goes on until no letter is ready")
        parser.add_argument(
            "--as-of",
            type=iso_day,
            metavar="DATE",
            help="stands for today: letters planned up to that day are ready, at any hour",
        )
        parser.add_argument("--json", action="store_true", help="prints one JSON document")

    def handle(self, *args: Any, **options: Any) -> None:
        with tqdm(unit=" letters", file=sys.stderr, disable=not sys.stderr.isatty()) as progress:
            result = send_waiting(
                now=timezone.now(),
                as_of=options["as_of"],
                until_empty=options["until_empty"],
                on_letter=progress.update,
            )
        counts = {
            "sent": result.sent,
            "in_doubt": result.in_doubt,
            "waiting": result.waiting,
            "refused": result.refused,
        }
        self.stdout.write(json.dumps(counts) if options["json"] else ", ".join(f"{n} {k}" for k, n in counts.items()))
        if result.not_configured:
            self.stderr.write("EMAIL_URL is not set: letters wait.")
        elif result.trouble:
            raise CommandError(result.trouble)
