"""Addresses of planning."""

from django.urls import path

from service_center.planning.views import behind, forecasts, weeks, what_if

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
    path("hours/", weeks.hours, name="hours"),
    path("<slug:week>/<slug:skill>/", behind.week, name="behind"),
    path("<slug:week>/<slug:skill>/letters-out/", behind.letters_out, name="letters_out"),
    path("<slug:week>/<slug:skill>/invited/", behind.invited, name="invited"),
]
