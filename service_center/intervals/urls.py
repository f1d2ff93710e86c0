"""Addresses of intervals."""

from django.urls import URLPattern

app_name = "intervals"
urlpatterns: list[URLPattern] = []
