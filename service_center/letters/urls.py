"""Addresses of letters."""

from django.urls import path

from service_center.letters import bounce_views, desk_views, reach_views, views, wording_views

app_name = "letters"
urlpatterns = [
    path("", desk_views.desk, name="desk"),
    path("all/", views.letters, name="letters"),
    path("ahead/", desk_views.ahead, name="ahead"),
    path("rehearsal/", desk_views.rehearsal, name="rehearsal"),
    path("answers/", desk_views.answers, name="answers"),
    path("rounds/<int:pk>/", desk_views.round_held, name="round"),
    path("rounds/<int:pk>/decide/", desk_views.decide_round, name="decide_round"),
    path("reach/", reach_views.reach, name="reach"),
    path("reach/<int:pk>/prepare/", reach_views.prepare, name="prepare"),
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
    path("<int:pk>/on-paper/", reach_views.on_paper, name="on_paper"),
    path("<int:pk>/reached/", reach_views.reached, name="reached"),
    path("<int:pk>/put-back/", reach_views.put_back, name="put_back"),
]
