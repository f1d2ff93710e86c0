"""make_large_book: a whole maker's book for measuring, into an empty database."""

from datetime import date
from typing import Any

from django.core.management.base import CommandError, CommandParser
from tqdm import tqdm

from service_center.access.management.command import HouseCommand
from service_center.demo.large_book import BookNotEmpty, make
from service_center.intervals.management.arguments import iso_day

EXAMPLE = """
Example:
  DATABASE_URL=postgres://... python manage.py make_large_book --pieces 1000000
"""


class Command(HouseCommand):
    """Makes pieces, owners and history by the million."""

    help = "Fills an empty database with a made book, from a fixed seed: one owner and four entries a piece." + EXAMPLE

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--pieces", type=int, default=100_000, help="how many pieces; 100,000")
        parser.add_argument("--until", type=iso_day, default=date(2026, 6, 30), help="the last day of its facts")
        parser.add_argument("--seed", type=int, default=7, help="another seed is another book; 7")

    def handle(self, *args: Any, **options: Any) -> None:
        with tqdm(total=options["pieces"], unit=" pieces", disable=None) as bar:
            try:
                make(
                    options["pieces"],
                    until=options["until"],
                    seed=options["seed"],
                    progress=bar.update,
                )
            except BookNotEmpty as refused:
                raise CommandError(str(refused), returncode=2) from refused
