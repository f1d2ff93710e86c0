"""The house: one page that leads to what is set once and rarely changed."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from service_center.access.context import settings_of


@require_safe
def house(request: HttpRequest) -> HttpResponse:
    """What the house has set, each with what it is about. No statement."""
    return render(request, "access/house.html", {"chapters": settings_of(request.user)})
