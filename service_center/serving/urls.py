"""Addresses of serving."""

from django.urls import URLPattern

app_name = "serving"
urlpatterns: list[URLPattern] = []
