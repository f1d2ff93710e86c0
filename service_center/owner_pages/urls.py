"""Addresses of owner pages. They open by the secret in a letter's link and by nothing else."""

from django.urls import path

from service_center.owner_pages import views

app_name = "owner_pages"
urlpatterns = [
    path("stop/<str:token>/", views.stop_letters, name="stop_letters"),
    path("<str:token>/", views.letter, name="letter"),
    path("<str:token>/answer/", views.answer, name="answer"),
]
