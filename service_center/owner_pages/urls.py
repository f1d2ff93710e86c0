"""Addresses of owner pages."""

from django.urls import URLPattern

app_name = "owner_pages"
urlpatterns: list[URLPattern] = []
