"""Addresses of exchange."""

from django.urls import URLPattern, path

from service_center.exchange import views

app_name = "exchange"
urlpatterns: list[URLPattern] = [
    path("", views.import_book, name="import_book"),
    path("files/", views.export_book, name="export_book"),
]
