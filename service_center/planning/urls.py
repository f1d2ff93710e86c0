"""Addresses of planning."""

from django.urls import path

from service_center.planning import views

app_name = "planning"
urlpatterns = [
    path("", views.weeks, name="weeks"),
    path("proposal/", views.proposal, name="proposal"),
    path("proposal/accept/", views.accept, name="accept"),
    path("hours/", views.hours, name="hours"),
    path("promises/", views.promises, name="promises"),
]
