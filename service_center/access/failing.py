"""What somebody reads when the house cannot write: its disk is full, or its database is away."""

import errno
import sys
from typing import Any

from django.db import OperationalError
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.middleware.csrf import get_token
from django.template.loader import get_template
from django.urls import Resolver404, resolve
from django.utils.translation import gettext as _
from django.views.defaults import server_error

from service_center.access.rules import DOORS, Door

# No room, no room for this user, a file that may grow no further, a disk that takes nothing.
NO_ROOM = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS, errno.EIO})
NEVER_SHOWN = ("csrfmiddlewaretoken", "password")
TRY_AGAIN_SECONDS = 60


def fault_page(request: HttpRequest) -> HttpResponseBase:
    """The page of an error that no view met. Where the house could not write, staff get back all that they had typed.

    A form that failed before its token was checked is not given back: it may be somebody else's.
    """
    if not (_cannot_write(sys.exc_info()[1]) and _is_for_staff(request)):
        return server_error(request)
    checked = request.method == "POST" and getattr(request, "csrf_processing_done", False)
    context: dict[str, Any] = {
        "is_form": request.method == "POST",
        "typed": _typed(request) if checked else [],
        "files": bool(checked and request.FILES),
        "to": request.get_full_path(),
        "csrf_token": get_token(request) if checked else "",
        "title": _("Nothing can be written down now"),
    }
    # Without the request: whoever is signed in stands in the database, which may be away.
    text = get_template("503.html").render(context)
    return HttpResponse(text, status=503, headers={"Retry-After": str(TRY_AGAIN_SECONDS), "Cache-Control": "no-store"})


def _cannot_write(error: BaseException | None) -> bool:
    return isinstance(error, OperationalError) or (isinstance(error, OSError) and error.errno in NO_ROOM)


def _is_for_staff(request: HttpRequest) -> bool:
    try:
        # Whoever cannot even be looked up has come to no page yet.
        match = request.resolver_match or resolve(request.path_info)
    except Resolver404:
        return False
    return not isinstance(DOORS.get(match.view_name, Door.OWNER), Door)


def _typed(request: HttpRequest) -> list[tuple[str, str]]:
    """Every field as it was sent, but for secrets."""
    return [
        (name, value)
        for name, values in request.POST.lists()
        if not any(part in name for part in NEVER_SHOWN)
        for value in values
    ]
