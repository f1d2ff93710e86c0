"""level_invitations: when to invite, so that the benches can keep up (outside.md)."""

import json
from argparse import ArgumentParser, ArgumentTypeError
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from service_center.access.management.command import HouseCommand
from service_center.intervals.management.arguments import add_as_of, day_asked_for
from service_center.planning.actions import Proposed, accept_levelling, propose_levelling
from service_center.planning.report import levelling_report
from service_center.planning.rules.programme import NotOptimal

WEEKS, MOST_WEEKS = 52, 520
EXAMPLE = """
Capacity is that of the watchmakers' calendars, and of skills.csv for skills that no watchmaker has.
Without --accept nothing is planned: the proposal is printed.

Example:
  python manage.py level_invitations --as-of 2026-11-25 --weeks 104 --json > proposal.json
"""


def _weeks(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 1 <= int(text[:9]) <= MOST_WEEKS):
        raise ArgumentTypeError(f'"{text}" is not a number of weeks from 1 to {MOST_WEEKS}')
    return int(text)


class Command(HouseCommand):
    """Levels the invitations to overhauls over the coming weeks."""

    help = "Chooses the weeks in which to invite, so that expected bench hours fit each skill's benches." + EXAMPLE

    def add_arguments(self, parser: ArgumentParser) -> None:
        add_as_of(parser)
        parser.add_argument("--weeks", type=_weeks, default=WEEKS, metavar="N", help=f"how far ahead; {WEEKS}")
        parser.add_argument("--accept", action="store_true", help="the plan becomes the planned days of invitations")
        parser.add_argument("--json", action="store_true", help="one JSON document on stdout, and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        as_of, weeks = day_asked_for(options["as_of"]), options["weeks"]
        try:
            if options["accept"]:
                proposed, changed = accept_levelling(as_of=as_of, weeks=weeks, at=timezone.now(), by=None)
                self.stderr.write(f"Accepted: {changed} planned days set or changed.")
            else:
                proposed = propose_levelling(as_of=as_of, weeks=weeks)
        except NotOptimal as fault:
            raise CommandError(f"no plan was found that could be proved: {fault}") from fault
        if options["json"]:
            self.stdout.write(json.dumps(levelling_report(proposed), ensure_ascii=False))
        else:
            self._as_text(proposed)

    def _as_text(self, proposed: Proposed) -> None:
        found, proposal = proposed.levelling, proposed.proposal
        names = found.week_names()
        before, after = proposal.before, proposal.after
        self.stdout.write(f"{int(proposal.invited.sum())} overhauls, {names[0]} to {names[-1]}")
        line = "{:<24} {:>12} {:>12}"
        self.stdout.write(line.format("", "before", "after"))
        for words, one, other in (
            ("fullest week, hours", before.peak, after.peak),
            ("hours over capacity", before.overload_hours, after.overload_hours),
            ("weeks early, all pieces", before.weeks_early, after.weeks_early),
            ("weeks late, all pieces", before.weeks_late, after.weeks_late),
        ):
            self.stdout.write(line.format(words, f"{one:.1f}", f"{other:.1f}"))
        if proposal.unchanged:
            self.stdout.write("The accepted plan stays as it is.")
        for number, why in (
            (found.no_letters, "their owners have no letters"),
            (found.no_skill, "their calibre has no complexity in the book"),
        ):
            if number:
                self.stdout.write(f"not planned: {number} overhauls, because {why}")
