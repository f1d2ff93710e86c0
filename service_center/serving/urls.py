"""Addresses of the probes."""

from django.urls import path

from service_center.serving import views

app_name = "serving"
urlpatterns = [
    path("live", views.live, name="live"),
    path("ready", views.ready, name="ready"),
]
