"""evaluate_chronometer: the criteria of ISO 3159 on fifteen daily rates (outside.md)."""

import json
from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from service_center.access.management.command import HouseCommand
from service_center.measurements import report
from service_center.measurements.management.from_file import from_file
from service_center.measurements.rules.chronometer import Criterion, Size, criteria_of
from service_center.measurements.rules.files import chronometer_series

ABOUT = """Works out the seven criteria of ISO 3159 from fifteen daily rates.

FILE.csv has the columns day (1 to 15) and rate (s/d, plus gains); the programme fixes position and temperature of each
day. A criterion whose days are missing is not answered. Meeting them all makes no piece a certified chronometer: only
an accredited body certifies.

Example:
  python manage.py evaluate_chronometer series.csv --size over20 --json
"""


class Command(HouseCommand):
    """The criteria of one series."""

    help = ABOUT

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", metavar="FILE.csv", type=Path, help="the daily rates")
        parser.add_argument(
            "--size",
            required=True,
            choices=[size.value for size in Size],
            help="movement diameter: over 20 mm, or up to 20 mm",
        )
        parser.add_argument("--json", action="store_true", help="one JSON document on stdout, and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"]
        rates = from_file(file, chronometer_series, self.stderr)
        criteria = criteria_of(rates, Size(options["size"]))
        for one in criteria:
            if one.missing:
                days = ", ".join(map(str, one.missing))
                self.stderr.write(f"warning: {file}: {one.name} cannot be answered without day {days}")
        if options["json"]:
            self.stdout.write(json.dumps(report.chronometer_report(criteria)))
            return
        for one in criteria:
            self.stdout.write(_line(one))
        self.stdout.write("These are figures of one series, not a certificate.")


def _line(one: Criterion) -> str:
    name = f"{one.name:<5} {one.meaning:<36}"
    if one.value is None:
        return f"{name} not answered"
    limits = f"{'' if one.low is None else one.low} .. {one.high}"
    return f"{name} {one.value:>8.3f}  {'ok ' if one.within else 'OUT'}  {limits}"
