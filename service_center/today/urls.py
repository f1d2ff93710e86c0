"""The address of the first page."""

from django.urls import URLPattern, path

from service_center.today import views

app_name = "today"
urlpatterns: list[URLPattern] = [path("", views.home, name="home")]
