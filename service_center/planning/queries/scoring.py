"""Past forecasts beside what came."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Min

from service_center.planning.models import Forecast, WeekArrivals
from service_center.planning.rules.scoring import AHEAD, Came, Said
from service_center.planning.rules.weeks import monday_of, week_name

LOOKED_BACK = 104  # weeks; owners answer differently after years


@dataclass(frozen=True, slots=True)
class PastWeek(Came):
    """One forecast week that is over, and its Monday."""

    week: date

    @property
    def name(self) -> str:
        """The week as ISO 8601 writes it."""
        return week_name(self.week)


@dataclass(frozen=True, slots=True)
class WhatCame:
    """Forecast weeks that are over, oldest first; `since`: the day of the first forecast, None where there is none yet."""

    weeks: list[PastWeek]
    since: date | None


def what_came(as_of: date) -> WhatCame:
    """The forecasts of the last LOOKED_BACK weeks at the horizons that are scored. Two statements, by index."""
    came = {
        (week, skill): pieces
        for week, skill, pieces in WeekArrivals.objects.filter(
            week__gte=monday_of(as_of) - timedelta(weeks=LOOKED_BACK)
        ).values_list("week", "skill", "pieces")
    }
    if not came:
        return WhatCame([], Forecast.objects.aggregate(since=Min("made_on"))["since"])
    first = min(week for week, _skill in came)
    rows = Forecast.objects.filter(ahead__in=AHEAD, week__gte=first, week__lt=monday_of(as_of))
    weeks_over, since = [], None
    fields = ("week", "skill", "ahead", "made_on", "expected", "low", "high")
    for week, skill, ahead, made_on, expected, low, high in rows.order_by("week", "skill").values_list(*fields):
        since = made_on if since is None else min(since, made_on)
        if (week, skill) in came:
            said = Said(expected, low, high)
            weeks_over.append(PastWeek(skill, ahead, said, came[week, skill], week))
    return WhatCame(weeks_over, since)
