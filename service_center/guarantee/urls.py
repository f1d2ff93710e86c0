"""Addresses of the guarantee."""

from django.urls import URLPattern, path

from service_center.guarantee import views

app_name = "guarantee"
urlpatterns: list[URLPattern] = [
    path("pieces/<int:pk>/guarantee/", views.piece, name="piece"),
    path("pieces/<int:pk>/guarantee/decide/", views.decide_cover, name="decide"),
    path("pieces/<int:pk>/guarantee-card/", views.card, name="card"),
    path("guarantee/", views.house, name="house"),
]
