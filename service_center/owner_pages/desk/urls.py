"""Addresses of what owners ask, for the desk."""

from django.urls import path

from service_center.owner_pages.desk import owner_views, views

app_name = "owners"
urlpatterns = [
    path("", views.requests, name="requests"),
    path("<int:pk>/", views.request_page, name="request"),
    path("of/<int:pk>/", owner_views.owner_page, name="owner"),
    path("of/<int:pk>/correct/", owner_views.correct_particulars, name="correct"),
    path("of/<int:pk>/ground/", owner_views.set_ground, name="ground"),
    path("of/<int:pk>/erase/", owner_views.erase_owner, name="erase"),
]
