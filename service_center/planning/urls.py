"""Addresses of planning."""

from datetime import date

from django.urls import path, register_converter

from service_center.planning.parts import views as parts
from service_center.planning.rules.weeks import monday_named, week_name
from service_center.planning.views import behind, forecasts, promises, weeks, what_if
from service_center.planning.week_plan import views as week_plan


class WeekConverter:
    """A week in an address, as ISO 8601 writes it: its Monday."""

    regex = "[0-9]{4}-W[0-9]{2}"

    def to_python(self, value: str) -> date:
        monday = monday_named(value)
        if monday is None:
            raise ValueError(value)
        return monday

    def to_url(self, value: date) -> str:
        return week_name(value)


register_converter(WeekConverter, "iso_week")

app_name = "planning"
urlpatterns = [
    path("", weeks.weeks, name="weeks"),
    path("proposal/", weeks.proposal, name="proposal"),
    path("proposal/accept/", weeks.accept, name="accept"),
    path("proposal/accept/<int:pk>/", weeks.accepting, name="accepting"),
    path("work-out/", weeks.work_out, name="work_out"),
    path("work-out/<int:pk>/", weeks.progress, name="progress"),
    path("what-if/", what_if.ask, name="what_if"),
    path("what-if/<int:pk>/", what_if.answer, name="what_if_answer"),
    path("letters/", forecasts.curves, name="curves"),
    path("forecasts/", forecasts.scores, name="scores"),
    path("promises/", promises.promises, name="promises"),
    path("parts/", parts.parts, name="parts"),
    path("parts/paper/", parts.paper, name="parts_paper"),
    path("parts/order/", parts.write_order, name="write_order"),
    path("hours/", weeks.hours, name="hours"),
    path("benches/", week_plan.this_week, name="this_week"),
    path("benches/<iso_week:monday>/", week_plan.week_plan, name="week_plan"),
    path("benches/<iso_week:monday>/paper/", week_plan.week_paper, name="week_paper"),
    path("benches/<iso_week:monday>/plan/", week_plan.plan_again, name="plan_again"),
    path("benches/line/<int:pk>/", week_plan.plan_line, name="plan_line"),
    path("behind/<slug:week>/<slug:skill>/", behind.week, name="behind"),
    path("behind/<slug:week>/<slug:skill>/letters-out/", behind.letters_out, name="letters_out"),
    path("behind/<slug:week>/<slug:skill>/invited/", behind.invited, name="invited"),
]
