"""Addresses. Who may open which is in access/rules.py."""

from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("service_center.today.urls")),
    path("", include("service_center.pieces.urls")),
    path("", include("service_center.bench.urls")),
    path("", include("service_center.guarantee.urls")),
    path("", include("service_center.access.urls")),
    path("due/", include("service_center.intervals.urls")),
    path("rules/", include("service_center.rulebook.urls")),
    path("workshop/", include("service_center.workshop.urls")),
    path("workshop/", include("service_center.workshop.calendars.urls")),
    path("planning/", include("service_center.planning.urls")),
    path("letters/", include("service_center.letters.urls")),
    path("counter/", include("service_center.intake.urls")),
    path("book/", include("service_center.exchange.urls")),
    path("o/", include("service_center.owner_pages.urls")),
    path("owners/", include("service_center.owner_pages.desk.urls")),
    path("health/", include("service_center.serving.urls")),
    path("demo/", include("service_center.demo.urls")),
]
handler400 = "service_center.owner_pages.faults.not_understood"
handler404 = "service_center.owner_pages.faults.nothing_there"
handler500 = "service_center.owner_pages.faults.failed"
