"""Addresses of the counter."""

from django.urls import path

from service_center.intake import views
from service_center.intake.drafts import views as draft_views
from service_center.intake.newcomers import views as newcomer_views
from service_center.intake.photographs import views as photograph_views
from service_center.intake.terms import views as term_views
from service_center.intake.visits import views as visit_views

app_name = "intake"
urlpatterns = [
    path("", views.find, name="find"),
    path("take-in/<int:pk>/", views.drop_off, name="drop_off"),
    path("take-in/<int:pk>/owner/", newcomer_views.owner_of, name="owner_of"),
    path("new-piece/", newcomer_views.new_piece, name="new_piece"),
    path("started/<int:pk>/", draft_views.started, name="started"),
    path("started/<int:pk>/take-over/", draft_views.take_over, name="take_over"),
    path("started/<int:pk>/give-up/", draft_views.give_up, name="give_up"),
    path("started/<int:pk>/<slug:name>/", draft_views.step, name="step"),
    path("photographs/<slug:key>/", photograph_views.photograph, name="photograph"),
    path("taken-in/", views.drop_offs, name="drop_offs"),
    path("taken-in/<int:pk>/", views.taken_in, name="taken_in"),
    path("taken-in/<int:pk>/receipt/", views.receipt, name="receipt"),
    path("taken-in/<int:pk>/mail/", views.mail_receipt, name="mail_receipt"),
    path("taken-in/<int:pk>/label/", views.label, name="label"),
    path("taken-in/<int:pk>/signature/", views.signature, name="signature"),
    path("usual-terms/", term_views.usual_terms, name="usual_terms"),
    path("visits/", visit_views.visits, name="visits"),
    path("visits/<int:pk>/", visit_views.mark_visit, name="mark_visit"),
    path("opening-hours/", visit_views.opening_hours, name="opening_hours"),
]
