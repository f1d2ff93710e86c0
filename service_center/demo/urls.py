"""Addresses of the demo's mailbox."""

from django.urls import path

from service_center.demo import views

app_name = "demo"
urlpatterns = [
    path("mail/", views.mailbox, name="mailbox"),
    path("mail/<slug:key>/", views.mail, name="mail"),
    path("mail/<slug:key>/html", views.mail_html, name="mail_html"),
]
