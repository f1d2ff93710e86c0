"""Addresses of letters."""

from django.urls import path

from service_center.letters import bounce_views, views

app_name = "letters"
urlpatterns = [
    path("", views.letters, name="letters"),
    path("bounces/", bounce_views.bounces, name="bounces"),
    path("bounces/<int:pk>/write-again/", bounce_views.write_again, name="write_again"),
    path("events/", bounce_views.provider_events, name="provider_events"),
    path("<int:pk>/", views.letter, name="letter"),
    path("<int:pk>/as-html/", views.letter_html, name="letter_html"),
    path("<int:pk>/doubt/", views.settle_doubt, name="settle_doubt"),
    path("<int:pk>/release/", views.release, name="release"),
    path("<int:pk>/links/", views.withdraw_links, name="withdraw_links"),
]
