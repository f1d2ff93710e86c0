"""The owner's door: the secret in a letter's link opens one letter, in its owner's language, and leaks nowhere.

Unknown, expired and withdrawn secrets look alike. Every answer of this door, a refusal too, tells browsers to
keep, send on and index nothing.
"""

from collections.abc import Callable
from datetime import date
from functools import wraps

from allauth.account.adapter import get_adapter
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.middleware.csrf import CsrfViewMiddleware
from django.shortcuts import render
from django.utils import timezone, translation
from django.utils.decorators import decorator_from_middleware

from service_center.book.wording import language_of
from service_center.letters.calendars import zone_of
from service_center.letters.models import Letter
from service_center.letters.queries import letter_for_token
from service_center.letters.rules.words import LinkPurpose
from service_center.owner_pages import misses

# Request, letter and secret; then whatever else stands in the address.
View = Callable[..., HttpResponseBase]
HEADERS = {
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex, nofollow",
    "Cache-Control": "no-store, private",
}


def behind_link(purpose: LinkPurpose) -> Callable[[View], Callable[..., HttpResponseBase]]:
    """A view that opens by a secret of that purpose and gets its letter; each miss is counted for its network.

    A network that missed too often opens no page for the rest of the minute. Stopping letters is never refused to
    somebody who holds the secret: mail programs ask for it from networks that many people share.
    """

    def decorate(view: View) -> Callable[..., HttpResponseBase]:
        @wraps(view)
        def opened(request: HttpRequest, token: str, **more: int) -> HttpResponseBase:
            now, network = timezone.now(), misses.network_of(_address(request))
            refused = misses.too_many(network, now)
            letter = None if refused and purpose is LinkPurpose.PAGE else letter_for_token(token, purpose, now)
            if letter is not None:
                with translation.override(language_of(letter.owner)):
                    response: HttpResponseBase = view(request, letter, token, **more)
            else:
                if not refused:
                    misses.count(network, now)
                response = _shut(request, status=429 if refused else 404)
            for name, value in HEADERS.items():
                response.headers[name] = value
            return response

        return opened

    return decorate


def todays_date(letter: Letter) -> date:
    """What day it is for the owner: in their zone, else in that of the boutique that sold the piece (as for letters)."""
    zone = letter.owner.time_zone or letter.reminders.values_list("piece__boutique__time_zone", flat=True).first() or ""
    return timezone.localdate(timezone=zone_of(zone))


def _shut(request: HttpRequest, *, status: int) -> HttpResponse:
    """The page behind which there is nothing, in the browser's language."""
    template = "owner_pages/too_many.html" if status == 429 else "owner_pages/not_found.html"
    with translation.override(translation.get_language_from_request(request)):
        response = render(request, template, status=status)
    if status == 429:
        response.headers["Retry-After"] = "60"
    return response


def _address(request: HttpRequest) -> str:
    """Where the request comes from, behind as many proxies as the house trusts."""
    try:
        return str(get_adapter(request).get_client_ip(request))
    except PermissionDenied:  # a server that listens on a socket file names no address
        return ""


class _LinkCsrf(CsrfViewMiddleware):
    """The usual check of cookie against form, for pages that send no referrer.

    A browser names the origin of a form on such a page as "null" (Fetch standard, appending a request Origin
    header) and sends no Referer, so these two prove nothing here; an origin that is named must still be ours.
    """

    def _origin_verified(self, request: HttpRequest) -> bool:
        named: bool = request.META["HTTP_ORIGIN"] != "null"
        return not named or super()._origin_verified(request)  # type: ignore[misc]  # the stubs leave it out

    def _check_referer(self, request: HttpRequest) -> None:
        """There is none on these pages."""

    def _reject(self, request: HttpRequest, reason: str) -> HttpResponse:
        match = request.resolver_match
        return render(request, "owner_pages/again.html", {"token": match.kwargs["token"] if match else ""}, status=403)


link_csrf = decorator_from_middleware(_LinkCsrf)
