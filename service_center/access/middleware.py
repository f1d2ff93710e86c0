"""Opens or refuses each page by the one table in rules.py."""

from collections.abc import Callable
from typing import Any

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from service_center.access.models import Staff
from service_center.access.rules import may_open


class DoorMiddleware:
    """Before any view runs: the table decides. A page without a row opens for nobody."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        # A shared tablet keeps no page with somebody's data after the next person sits down.
        response.headers.setdefault("Cache-Control", "no-store")
        return response

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> HttpResponse | None:
        match = request.resolver_match
        view_name = match.view_name if match else ""
        staff = request.user if isinstance(request.user, Staff) else None
        if may_open(view_name, staff.role if staff else None):
            return None
        if staff is None:
            return redirect_to_login(request.get_full_path())
        raise PermissionDenied(view_name)
