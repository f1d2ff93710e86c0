"""Addresses of pieces."""

from django.urls import URLPattern

app_name = "pieces"
urlpatterns: list[URLPattern] = []
