"""Addresses of letters."""

from django.urls import path

from service_center.letters import bounce_views, views, wording_views

app_name = "letters"
urlpatterns = [
    path("", views.letters, name="letters"),
    path("bounces/", bounce_views.bounces, name="bounces"),
    path("bounces/<int:pk>/write-again/", bounce_views.write_again, name="write_again"),
    path("events/", bounce_views.provider_events, name="provider_events"),
    path("wording/", wording_views.wording, name="wording"),
    path("wording/<str:language>/", wording_views.wording, name="wording_in"),
    path("wording/<str:language>/<slug:slug>/", wording_views.wording_group, name="wording_group"),
    path("wording/<str:language>/<slug:slug>/preview/", wording_views.wording_preview, name="wording_preview"),
    path("wording/<str:language>/text/<str:code>/", wording_views.wording_text, name="wording_text"),
    path("wording/<str:language>/text/<str:code>/ours/", wording_views.wording_back, name="wording_back"),
    path("<int:pk>/", views.letter, name="letter"),
    path("<int:pk>/as-html/", views.letter_html, name="letter_html"),
    path("<int:pk>/doubt/", views.settle_doubt, name="settle_doubt"),
    path("<int:pk>/release/", views.release, name="release"),
    path("<int:pk>/links/", views.withdraw_links, name="withdraw_links"),
]
