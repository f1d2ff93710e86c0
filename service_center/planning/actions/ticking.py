"""What planning does every half minute: what is asked for; once a day the usual picture and the parts; once a week the forecast."""

from datetime import date, datetime

from service_center.planning.actions.forecasting import count_arrivals, keep_forecast
from service_center.planning.actions.reckoning import ask_for_picture, work_out
from service_center.planning.models import Forecast, Reckoning
from service_center.planning.parts.actions import count_parts_daily
from service_center.planning.queries.pictures import USUAL_WEEKS
from service_center.planning.rules.picture import Picture
from service_center.planning.rules.weeks import monday_of
from service_center.planning.rules.words import Outcome, ReckoningSort


def tick(*, as_of: date, now: datetime) -> int:
    """How many things were worked out. Ticks beside each other do no harm."""
    usual = Reckoning.objects.filter(sort=ReckoningSort.PICTURE, weeks=USUAL_WEEKS)
    if not usual.filter(as_of__gte=as_of).exists():
        ask_for_picture(as_of=as_of, weeks=USUAL_WEEKS, at=now, by=None)
    done = work_out(now=now)
    count_parts_daily(as_of=as_of, now=now)
    if not Forecast.objects.filter(made_in=monday_of(as_of)).exists():
        latest = usual.filter(as_of=as_of, outcome=Outcome.DONE).order_by("-pk").first()
        if latest and latest.picture and latest.picture["skills"]:
            keep_forecast(Picture.from_json(latest.picture), made_on=as_of)
            count_arrivals(as_of=as_of)
    return done
