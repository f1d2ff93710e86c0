"""Addresses of owner pages. They open by the secret in a letter's link and by nothing else."""

from django.urls import path

from service_center.owner_pages.views import letters, visits

app_name = "owner_pages"
urlpatterns = [
    path("stop/<str:token>/", letters.stop_letters, name="stop_letters"),
    path("<str:token>/", letters.letter, name="letter"),
    path("<str:token>/answer/", letters.answer, name="answer"),
    path("<str:token>/visit/", visits.book, name="book_visit"),
    path("<str:token>/visit/<int:pk>/", visits.visit, name="visit"),
    path("<str:token>/visit/<int:pk>/move/", visits.move, name="move_visit"),
    path("<str:token>/visit/<int:pk>/cancel/", visits.cancel, name="cancel_visit"),
    path("<str:token>/visit/<int:pk>/visit.ics", visits.calendar, name="visit_calendar"),
]
