"""Addresses of the workshop's own tables."""

from django.urls import URLPattern, path, register_converter

from service_center.book.rules import EntryKind
from service_center.workshop.parts import views as parts
from service_center.workshop.parts.ordered import views as ordered
from service_center.workshop.times import views as times


class KindConverter:
    """A kind of order in an address."""

    regex = "|".join(kind.value for kind in EntryKind)

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


register_converter(KindConverter, "order_kind")

app_name = "workshop"
urlpatterns: list[URLPattern] = [
    path("times/", times.times, {"kind": EntryKind.OVERHAUL.value}, name="standard_times"),
    path("times/<order_kind:kind>/", times.times, name="times"),
    path("parts/", parts.parts, name="parts"),
    path("parts/new/", parts.new_part, name="new_part"),
    path("parts/<int:pk>/", parts.part, name="part"),
    path("parts/ordered/", ordered.ordered_parts, name="ordered_parts"),
    path("parts/ordered/<int:pk>/", ordered.ordered_line, name="ordered_line"),
    path("orders/<str:number>/parts/", parts.order_parts, name="order_parts"),
]
