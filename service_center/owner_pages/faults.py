"""What is said where an address leads nowhere or we fail: to owners in their words, to staff in theirs.

An owner has no desk and no manager to ask; their mail program may have cut the link short.
"""

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import translation
from django.views.defaults import page_not_found

from service_center.access.failing import fault_page
from service_center.owner_pages.door import HEADERS, shut


def nothing_there(request: HttpRequest, exception: Exception) -> HttpResponse:
    """An address that is none (404)."""
    return _kept_quiet(shut(request, status=404)) if _is_owners(request) else page_not_found(request, exception)


def failed(request: HttpRequest) -> HttpResponseBase:
    """Our own fault (500). Asks nothing of the database, which may be what failed."""
    if not _is_owners(request):
        return fault_page(request)
    said = {"house_name": settings.HOUSE_NAME, "house_mail": settings.MAIL_FROM}
    with translation.override(translation.get_language_from_request(request)):
        return _kept_quiet(HttpResponse(render_to_string("owner_pages/failed.html", said), status=500))


def _is_owners(request: HttpRequest) -> bool:
    """Whether an address stands on the owners' side of the site."""
    side = reverse("owner_pages:letter", kwargs={"token": "x"}).removesuffix("x/")
    return request.path.startswith(side)


def _kept_quiet(response: HttpResponse) -> HttpResponse:
    for header, value in HEADERS.items():
        response.headers[header] = value
    return response
