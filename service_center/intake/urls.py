"""Addresses of the counter."""

from django.urls import path

from service_center.intake import views

app_name = "intake"
urlpatterns = [
    path("", views.find, name="find"),
    path("take-in/<int:pk>/", views.drop_off, name="drop_off"),
    path("taken-in/", views.drop_offs, name="drop_offs"),
    path("taken-in/<int:pk>/", views.taken_in, name="taken_in"),
    path("taken-in/<int:pk>/receipt/", views.receipt, name="receipt"),
    path("taken-in/<int:pk>/label/", views.label, name="label"),
]
