"""Addresses of owner pages. They open by the secret in a letter's link and by nothing else."""

from django.urls import path

from service_center.owner_pages.views import data, details, letters, orders, pieces, visits

app_name = "owner_pages"
urlpatterns = [
    path("stop/<str:token>/", letters.stop_letters, name="stop_letters"),
    path("address/<str:token>/", details.confirm_email, name="confirm_email"),
    path("<str:token>/", letters.letter, name="letter"),
    path("<str:token>/answer/", letters.answer, name="answer"),
    path("<str:token>/visit/", visits.book, name="book_visit"),
    path("<str:token>/visit/<int:pk>/", visits.visit, name="visit"),
    path("<str:token>/visit/<int:pk>/move/", visits.move, name="move_visit"),
    path("<str:token>/visit/<int:pk>/cancel/", visits.cancel, name="cancel_visit"),
    path("<str:token>/visit/<int:pk>/visit.ics", visits.calendar, name="visit_calendar"),
    path("<str:token>/watch/<int:pk>/", pieces.piece, name="piece"),
    path("<str:token>/watch/<int:pk>/extension/", pieces.enrol_extension, name="enrol"),
    path("<str:token>/receipt/<int:pk>/", pieces.receipt, name="receipt"),
    path("<str:token>/report/<int:pk>/", pieces.report, name="report"),
    path("<str:token>/estimate/<int:pk>/", orders.estimate_paper, name="estimate_paper"),
    path("<str:token>/estimate/<int:pk>/answer/", orders.answer_estimate, name="answer_estimate"),
    path("<str:token>/photograph/<slug:key>/", pieces.photograph, name="photograph"),
    path("<str:token>/details/", details.details, name="details"),
    path("<str:token>/details/name/", details.correct_name, name="correct_name"),
    path("<str:token>/details/email/", details.withdraw_email, name="withdraw_email"),
    path("<str:token>/data/", data.data, name="data"),
    path("<str:token>/data/copy/", data.copy, name="data_copy"),
    path("<str:token>/data/ask/", data.ask, name="data_ask"),
]
