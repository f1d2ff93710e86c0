"""plan_week: who does what on which day of a week, and how far from the best that plan can be."""

import json
from argparse import ArgumentParser, ArgumentTypeError
from datetime import date
from typing import Any

from django.utils import timezone

from service_center.access.management.command import HouseCommand
from service_center.intervals.management.arguments import add_as_of, day_asked_for
from service_center.planning.rules.weeks import monday_named, week_name
from service_center.planning.week_plan.actions import want_plan
from service_center.planning.week_plan.models import WeekPlan
from service_center.planning.week_plan.report import week_report
from service_center.planning.week_plan.solving import plan_one, plan_waiting
from service_center.planning.week_plan.words import gap_in_words

EXAMPLE = """
Fixed lines stay; those that cannot be kept are named. The days of the week before --as-of are left alone.

Example:
  python manage.py plan_week --week 2026-W49 --as-of 2026-11-30 --json > plan.json
"""


def _week(text: str) -> date:
    monday = monday_named(text)
    if monday is None:
        raise ArgumentTypeError(f'"{text}" is not an ISO week such as 2026-W49')
    return monday


class Command(HouseCommand):
    """Plans a week of the benches."""

    help = "Plans who does what at the benches on which day of a week, within skills, hours and promises." + EXAMPLE

    def add_arguments(self, parser: ArgumentParser) -> None:
        add_as_of(parser)
        parser.add_argument("--week", type=_week, metavar="WEEK", help="an ISO week; that of --as-of")
        parser.add_argument("--waiting", action="store_true", help="the weeks that the desk asked for, and no other")
        parser.add_argument("--json", action="store_true", help="one JSON document on stdout, and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        if options["waiting"]:
            plans = list(plan_waiting(now=now))
        else:
            as_of = day_asked_for(options["as_of"])
            plans = [plan_one(want_plan(options["week"] or as_of, as_of=as_of, at=now, by=None), at=now)]
        if options["json"]:
            self.stdout.write(json.dumps([week_report(plan) for plan in plans], ensure_ascii=False))
            return
        for plan in plans:
            self._as_text(plan)

    def _as_text(self, plan: WeekPlan) -> None:
        report = week_report(plan)
        self.stdout.write(f"{week_name(plan.monday)}: {len(report['lines'])} lines")
        if plan.fault:
            self.stdout.write(f"not planned: {plan.fault}")
        for name in ("days_late", "minutes_left_out", "changes", "load", "cost", "plain_cost", "bound", "days_bound"):
            self.stdout.write(f"{name:<20} {report[name]}")
        self.stdout.write(gap_in_words(plan))
        for line in report["not_kept"]:
            self.stdout.write(f"not kept: {line['order']} {line['operation']} on {line['day']}: {line['why']}")
