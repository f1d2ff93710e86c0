"""Addresses of pieces."""

from django.urls import URLPattern, path

from service_center.pieces import views

app_name = "pieces"
urlpatterns: list[URLPattern] = [
    path("search/", views.search, name="search"),
    path("pieces/<int:pk>/", views.piece, name="piece"),
    path("pieces/<int:pk>/correct/", views.correct_piece, name="correct"),
    path("pieces/<int:pk>/entries/", views.record_entry, name="record_entry"),
    path("pieces/<int:pk>/entries/<str:code>/strike/", views.strike_entry, name="strike_entry"),
    path("pieces/<int:pk>/sheets/<int:sheet>/correct/", views.correct_sheet, name="correct_sheet"),
    path("pieces/<int:pk>/hand-back/", views.hand_back, name="hand_back"),
]
