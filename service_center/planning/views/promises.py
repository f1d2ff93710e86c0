"""Promises beside what came of them."""

from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from service_center.planning.queries.promises_kept import promises_kept
from service_center.planning.showing.promises import promises_table


@require_safe
def promises(request: HttpRequest) -> HttpResponse:
    """How many orders of the last twelve months were ready by their promise. One statement."""
    today = timezone.localdate()
    first_month = date(today.year - 1, today.month, 1)
    return render(request, "planning/promises.html", {"table": promises_table(promises_kept(first_month, today))})
