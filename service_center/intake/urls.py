"""Addresses of intake."""

from django.urls import URLPattern

app_name = "intake"
urlpatterns: list[URLPattern] = []
