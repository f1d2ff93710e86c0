"""Keeping what was forecast, and counting what came of it."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from django.db import transaction

from service_center.planning.models import Forecast, WeekArrivals
from service_center.planning.queries.answers import arrivals_by_week
from service_center.planning.rules.picture import Picture
from service_center.planning.rules.scoring import WEEKS_KEPT, Said, forecast_of
from service_center.planning.rules.weeks import monday_of

# Entries of work done come in late; a week is counted anew this long.
COUNTED_ANEW = 8


def keep_forecast(picture: Picture, *, made_on: date) -> int:
    """Write down how many pieces each of the coming weeks is expected to bring, once a week; how many rows."""
    return keep_said({one.skill: forecast_of(one) for one in picture.skills}, made_on=made_on)


def keep_said(by_skill: Mapping[str, Sequence[Said]], *, made_on: date) -> int:
    """The same, of ranges by skill and week from the week of `made_on` on.

    A week that has its forecast keeps it: who asks a second time changes nothing.
    """
    first = monday_of(made_on)
    rows = [
        Forecast(
            made_on=made_on, made_in=first, week=first + timedelta(weeks=ahead), ahead=ahead, skill=skill,
            expected=said.expected, low=said.low, high=said.high,
        )
        for skill, weeks in by_skill.items()
        for ahead, said in enumerate(weeks[:WEEKS_KEPT])
    ]  # fmt: skip
    return len(Forecast.objects.bulk_create(rows, ignore_conflicts=True))


@transaction.atomic
def count_arrivals(*, as_of: date) -> int:
    """Count what came in every forecast week that is over, the latest ones anew; how many weeks. Three statements."""
    until = monday_of(as_of)
    forecast = Forecast.objects.filter(week__lt=until)
    counted = set(
        WeekArrivals.objects.filter(week__lt=until - timedelta(weeks=COUNTED_ANEW)).values_list("week", flat=True)
    )
    weeks = sorted(set(forecast.values_list("week", flat=True).distinct()) - counted)
    if not weeks:
        return 0
    came = arrivals_by_week(weeks[0], until)
    skills = set(forecast.values_list("skill", flat=True).distinct())
    WeekArrivals.objects.bulk_create(
        [WeekArrivals(week=week, skill=skill, pieces=came[week, skill]) for week in weeks for skill in sorted(skills)],
        update_conflicts=True, unique_fields=["week", "skill"], update_fields=["pieces"], batch_size=500,
    )  # fmt: skip
    return len(weeks)
