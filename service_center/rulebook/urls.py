"""Addresses of the house's rules."""

from django.urls import path

from service_center.rulebook import views

app_name = "rulebook"
urlpatterns = [
    path("", views.rules, name="rules"),
    path("add/", views.add_rule, name="add_rule"),
    path("<int:pk>/end/", views.end_rule, name="end_rule"),
]
