"""Addresses of letters."""

from django.urls import path

from service_center.letters.desk.views import desk, held, letters, reaching
from service_center.letters.rehearsing import views as rehearsing
from service_center.letters.returned import views as returned
from service_center.letters.wording import views as wording

app_name = "letters"
urlpatterns = [
    path("", desk.desk, name="desk"),
    path("all/", letters.letters, name="letters"),
    path("all/try-again/", letters.try_all_again, name="try_all_again"),
    path("ahead/", desk.ahead, name="ahead"),
    path("rehearsal/", rehearsing.rehearsal, name="rehearsal"),
    path("rehearsal/ask/", rehearsing.rehearse, name="rehearse"),
    path("rehearsal/<int:pk>/progress/", rehearsing.progress, name="rehearsal_progress"),
    path("answers/", desk.answers, name="answers"),
    path("rounds/<int:pk>/", desk.round_held, name="round"),
    path("rounds/<int:pk>/decide/", desk.decide_round, name="decide_round"),
    path("held/", held.held, name="held"),
    path("held/go-on/", held.go_on, name="go_on"),
    path("held/end/", held.end_held, name="end_held"),
    path("reach/", reaching.reach, name="reach"),
    path("reach/<int:pk>/prepare/", reaching.prepare, name="prepare"),
    path("bounces/", returned.bounces, name="bounces"),
    path("bounces/<int:pk>/write-again/", returned.write_again, name="write_again"),
    path("events/", returned.provider_events, name="provider_events"),
    path("wording/", wording.wording, name="wording"),
    path("wording/<str:language>/", wording.wording, name="wording_in"),
    path("wording/<str:language>/<slug:slug>/", wording.wording_group, name="wording_group"),
    path("wording/<str:language>/<slug:slug>/preview/", wording.wording_preview, name="wording_preview"),
    path("wording/<str:language>/text/<str:code>/", wording.wording_text, name="wording_text"),
    path("wording/<str:language>/text/<str:code>/ours/", wording.wording_back, name="wording_back"),
    path("<int:pk>/", letters.letter, name="letter"),
    path("<int:pk>/as-html/", letters.letter_html, name="letter_html"),
    path("<int:pk>/doubt/", letters.settle_doubt, name="settle_doubt"),
    path("<int:pk>/release/", letters.release, name="release"),
    path("<int:pk>/end/", letters.end, name="end"),
    path("<int:pk>/links/", letters.withdraw_links, name="withdraw_links"),
    path("<int:pk>/prepare/", reaching.prepare_unsaid, name="prepare_unsaid"),
    path("<int:pk>/on-paper/", reaching.on_paper, name="on_paper"),
    path("<int:pk>/reached/", reaching.reached, name="reached"),
    path("<int:pk>/put-back/", reaching.put_back, name="put_back"),
]
