"""Addresses of what owners ask, for the desk."""

from django.urls import path

from service_center.owner_pages.desk import views

app_name = "owners"
urlpatterns = [
    path("", views.requests, name="requests"),
    path("<int:pk>/", views.request_page, name="request"),
]
