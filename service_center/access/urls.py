"""The house's page; signing in and out: the ready-made pages of the accounts library that the house uses, and no others."""

from allauth.account import views
from django.urls import path

from service_center.access.views import house, own_address

urlpatterns = [
    path("house/", house, name="house"),
    path("sign-in/", views.login, name="account_login"),
    path("sign-out/", views.logout, name="account_logout"),
    path("sign-up/", views.signup, name="account_signup"),
    path("sign-in/inactive/", views.account_inactive, name="account_inactive"),
    path("sign-in/again/", views.reauthenticate, name="account_reauthenticate"),
    path("your-address/", own_address, name="own_address"),
    path("password/", views.password_change, name="account_change_password"),
]
