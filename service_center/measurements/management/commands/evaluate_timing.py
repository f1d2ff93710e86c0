"""evaluate_timing: what a timing sheet says (outside.md)."""

import json
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser

from service_center.access.management.command import HouseCommand
from service_center.book.models import Calibre
from service_center.measurements import report
from service_center.measurements.management.from_file import from_file
from service_center.measurements.queries import judging_of
from service_center.measurements.rules.files import timing_sheet
from service_center.measurements.rules.limits import HOUSE_JUDGING, Verdict, verdicts_on

ABOUT = """Works out the figures of a timing sheet and judges them by the limits of a calibre, or the house's.

FILE.csv has the columns position (CH, CB or FH, 3H, 6H, 9H, 12H), wind (full, 24h), rate (s/d, plus gains), amplitude
(degrees) and beat_error (ms, half the difference of the two beats); an empty cell was not read. An impossible reading
refuses the sheet, one line on stderr for each (exit 2); an unusual one is a warning on stderr. With a calibre that is
judged in some positions alone, readings in the others decide no verdict.

Example:
  python manage.py evaluate_timing sheet.csv --calibre FH-21 --json > figures.json
"""


class Command(HouseCommand):
    """Figures and verdicts of one sheet."""

    help = ABOUT

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", metavar="FILE.csv", type=Path, help="the readings")
        parser.add_argument("--calibre", help="judge by this calibre's limits (a calibre of the book)")
        parser.add_argument("--json", action="store_true", help="one JSON document on stdout, and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"]
        judging = HOUSE_JUDGING
        if options["calibre"] is not None:
            calibre = Calibre.objects.filter(code=options["calibre"]).first()
            if calibre is None:
                raise CommandError(f'--calibre: there is no calibre "{options["calibre"]}" in the book', returncode=2)
            judging = judging_of(calibre)
        readings, unusual = from_file(file, timing_sheet, self.stderr)
        for fault in unusual:
            self.stderr.write(f"warning: {fault}")
        verdicts = verdicts_on(readings, judging)
        if options["json"]:
            self.stdout.write(json.dumps(report.timing_report(readings, verdicts)))
            return
        for verdict in verdicts:
            self.stdout.write(_line(verdict))


def _line(verdict: Verdict) -> str:
    if verdict.value is None:
        return f"{verdict.figure:<34} not given by this sheet"
    low, high = verdict.limits.low, verdict.limits.high
    limits = f"{'' if low is None else low} .. {'' if high is None else high}"
    readings = ", ".join(f"{one.position} {one.wind}" for one in verdict.decided_by)
    return f"{verdict.figure:<34} {verdict.value:>8.2f}  {'ok ' if verdict.within else 'OUT'}  {limits:<12}  {readings}"
