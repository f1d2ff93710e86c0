"""What is said where an address leads nowhere or we fail: to owners in their words, to staff in theirs.

An owner has no desk and no manager to ask; their mail program may have cut the link short.
"""

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.template.loader import render_to_string
from django.utils import translation
from django.views.defaults import bad_request, page_not_found

from service_center.access.failing import fault_page
from service_center.owner_pages.door import is_owners, shut


def nothing_there(request: HttpRequest, exception: Exception) -> HttpResponse:
    """An address that is none (404)."""
    return shut(request, status=404) if is_owners(request) else page_not_found(request, exception)


def not_understood(request: HttpRequest, exception: Exception) -> HttpResponse:
    """A request that is none (400): another site's name, fields without end. Asks nothing of the request but its language."""
    if not is_owners(request):
        return bad_request(request, exception)
    return _said(request, "owner_pages/unread.html", status=400)


def failed(request: HttpRequest) -> HttpResponseBase:
    """Our own fault (500). Asks nothing of the database, which may be what failed."""
    return _said(request, "owner_pages/failed.html", status=500) if is_owners(request) else fault_page(request)


def _said(request: HttpRequest, page: str, *, status: int) -> HttpResponse:
    """A page that is made without the request, in the browser's language."""
    said = {"house_name": settings.HOUSE_NAME, "house_mail": settings.MAIL_FROM}
    with translation.override(translation.get_language_from_request(request)):
        return HttpResponse(render_to_string(page, said), status=status)
