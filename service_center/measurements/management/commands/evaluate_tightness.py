"""evaluate_tightness: leak flow from a pressure drop (outside.md)."""

import json
from typing import Any

from django.core.management.base import CommandError, CommandParser

from service_center.access.management.command import HouseCommand
from service_center.measurements.rules.tightness import LIMIT_UG_A_MINUTE, leak_flow

ABOUT = f"""Works out the air that leaks, in micrograms a minute, from a pressure drop in a known free volume at one
temperature, and holds it against the limit of {LIMIT_UG_A_MINUTE:.0f} at 2 bar overpressure (ISO 22810). A tenth of a
degree of cooling can double an apparent leak: let the temperature settle first.

Take care: a pressure vessel stores energy, air far more than water. Local codes and licensed practice come first.

Example:
  python manage.py evaluate_tightness --pressure-drop-mbar 1 --volume-ml 10 --minutes 1 --temperature-c 23 --json
"""


class Command(HouseCommand):
    """The leak flow of one test."""

    help = ABOUT

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--pressure-drop-mbar", type=float, required=True, help="how far the pressure fell")
        parser.add_argument("--volume-ml", type=float, required=True, help="free volume between tester and case")
        parser.add_argument("--minutes", type=float, required=True, help="how long it was watched")
        parser.add_argument("--temperature-c", type=float, required=True, help="temperature of the air")
        parser.add_argument("--json", action="store_true", help="one JSON document on stdout, and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            flow = leak_flow(
                pressure_drop_mbar=options["pressure_drop_mbar"],
                volume_ml=options["volume_ml"],
                minutes=options["minutes"],
                temperature_c=options["temperature_c"],
            )
        except ValueError as error:
            raise CommandError(str(error), returncode=2) from error
        within = flow <= LIMIT_UG_A_MINUTE
        if options["json"]:
            document = {"micrograms_per_minute": flow, "limit": LIMIT_UG_A_MINUTE, "within": within}
            self.stdout.write(json.dumps(document))
            return
        self.stdout.write(
            f"{flow:.2f} µg/min, {'within' if within else 'ABOVE'} the limit of {LIMIT_UG_A_MINUTE:.0f} µg/min"
        )
        self.stdout.write("A result speaks of the moment of the test only.")
