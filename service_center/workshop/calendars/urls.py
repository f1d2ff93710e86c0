"""Addresses of the benches' calendars."""

from django.urls import path

from service_center.workshop.calendars.views import benches, standing_still

app_name = "calendars"
urlpatterns = [
    path("benches/", benches.benches, name="benches"),
    path("benches/add/", benches.add, name="add"),
    path("benches/mine/", benches.mine, name="mine"),
    path("benches/<int:pk>/", benches.watchmaker, name="watchmaker"),
    path("closed/", standing_still.standing_still, name="standing_still"),
]
