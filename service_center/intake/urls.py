"""Addresses of the counter."""

from django.urls import path

from service_center.intake import views
from service_center.intake.visits import views as visit_views

app_name = "intake"
urlpatterns = [
    path("", views.find, name="find"),
    path("take-in/<int:pk>/", views.drop_off, name="drop_off"),
    path("taken-in/", views.drop_offs, name="drop_offs"),
    path("taken-in/<int:pk>/", views.taken_in, name="taken_in"),
    path("taken-in/<int:pk>/receipt/", views.receipt, name="receipt"),
    path("taken-in/<int:pk>/label/", views.label, name="label"),
    path("visits/", visit_views.visits, name="visits"),
    path("visits/<int:pk>/", visit_views.mark_visit, name="mark_visit"),
    path("opening-hours/", visit_views.opening_hours, name="opening_hours"),
]
