"""Ends sessions in time, and opens or refuses each page by the one table in rules.py."""

import logging
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth.views import redirect_to_login
from django.contrib.sessions.middleware import SessionMiddleware
from django.core.exceptions import PermissionDenied
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _

from service_center.access.models import Staff
from service_center.access.rules import SESSION_LIFE, idle_life, may_open

logger = logging.getLogger(__name__)

# How often the session's row is written while somebody works: not at every page.
NOTED_EVERY = timedelta(minutes=1)


class PatientSessionMiddleware(SessionMiddleware):
    """A page is shown though its session could not be noted: on a full disk people can still read."""

    def process_response(self, request: HttpRequest, response: HttpResponse) -> HttpResponse:
        try:
            return super().process_response(request, response)
        except OperationalError:
            logger.exception("A session could not be written down")
            return response


class SessionLifeMiddleware:
    """Signs out whoever has been away, or here, for longer than their role allows (rules.py)."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if isinstance(request.user, Staff):
            self._end_or_note(request, request.user, timezone.now())
        return self.get_response(request)

    def _end_or_note(self, request: HttpRequest, staff: Staff, now: datetime) -> None:
        began = _moment(request.session.setdefault("began_at", now.timestamp()))
        seen = _moment(request.session.setdefault("seen_at", now.timestamp()))
        if now - began >= SESSION_LIFE or now - seen >= idle_life(staff.role):
            logout(request)
            messages.info(request, _("You were signed out for safety. Please sign in again."))
        elif now - seen >= NOTED_EVERY:
            request.session["seen_at"] = now.timestamp()


def _moment(timestamp: float) -> datetime:
    return datetime.fromtimestamp(timestamp, UTC)


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
