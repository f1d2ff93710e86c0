"""Addresses of letters."""

from django.urls import URLPattern

app_name = "letters"
urlpatterns: list[URLPattern] = []
