"""Addresses of intervals."""

from django.urls import path

from service_center.intervals import views

app_name = "intervals"
urlpatterns = [
    path("", views.due_list, name="due_list"),
    path("due.csv", views.due_file, name="due_file"),
]
