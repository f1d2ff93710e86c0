"""The owner's door: the secret in a letter's link opens one letter, in its owner's language, and leaks nowhere.

Unknown, expired and withdrawn secrets look alike. Every answer on this side of the site, a refusal too, tells browsers
to keep, send on and index nothing (middleware.py).
"""

from collections.abc import Callable
from datetime import date, datetime
from functools import wraps

from allauth.account.adapter import get_adapter
from django.core.exceptions import BadRequest, PermissionDenied, SuspiciousOperation
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, UnreadablePostError
from django.http.multipartparser import MultiPartParserError
from django.middleware.csrf import CsrfViewMiddleware
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.decorators import decorator_from_middleware
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_safe

from service_center.book.models import Owner
from service_center.book.wording import language_of
from service_center.letters.actions import link_was_used
from service_center.letters.models import Letter
from service_center.letters.queries import letter_for_token
from service_center.letters.rules.words import LinkPurpose
from service_center.owner_pages import misses
from service_center.owner_pages.actions import OwnerErasedError
from service_center.owner_pages.queries import zone_for
from service_center.owner_pages.rules import CONFIRM, hash_secret

# Request, letter and secret; then whatever else stands in the address.
View = Callable[..., HttpResponseBase]
# What Django finds wrong with a form as it takes it apart; and what Python does, where a header names an encoding that is
# none (RFC 2231, as multipart parts may).
UNREADABLE = (BadRequest, SuspiciousOperation, MultiPartParserError, UnreadablePostError, LookupError, ValueError)


def is_owners(request: HttpRequest) -> bool:
    """Whether an address stands on the owners' side of the site."""
    side = reverse("owner_pages:letter", kwargs={"token": "x"}).removesuffix("x/")
    return request.path.startswith(side)


def only_shows(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """An owner's page without a form. Who sends one all the same is told by the method, not by a check of forms."""
    return csrf_exempt(require_safe(view))


def behind_link(purpose: LinkPurpose) -> Callable[[View], Callable[..., HttpResponseBase]]:
    """A view that opens by a letter's secret of that purpose and gets the letter.

    Stopping letters is never refused to somebody who holds the secret: mail programs ask for it from networks that
    many people share. A button that is pressed proves that the letter arrived; a look changes nothing.
    """

    def find(token: str, now: datetime) -> tuple[Letter, Owner] | None:
        letter = letter_for_token(token, purpose, now)
        return (letter, letter.owner) if letter else None

    door = behind_secret(find, name=purpose.value, patient=purpose is LinkPurpose.STOP)

    def decorate(view: View) -> Callable[..., HttpResponseBase]:
        @wraps(view)
        def with_proof(request: HttpRequest, letter: Letter, token: str, **more: int | str) -> HttpResponseBase:
            if request.method == "POST":
                link_was_used(letter, token, purpose)
            return view(request, letter, token, **more)

        return door(with_proof)

    return decorate


def behind_secret(
    find: Callable[[str, datetime], tuple[object, Owner] | None], *, name: str, patient: bool
) -> Callable[[View], Callable[..., HttpResponseBase]]:
    """A view that opens by a secret and gets what `find` finds, in its owner's language. Each miss is counted.

    A network that missed too often opens no page for the rest of the minute, and a link whose buttons are pressed
    faster than a person can does nothing more; but not where the door is `patient`.
    """

    def decorate(view: View) -> Callable[..., HttpResponseBase]:
        @wraps(view)
        def opened(request: HttpRequest, token: str, **more: int | str) -> HttpResponseBase:
            now, network = timezone.now(), misses.network_of(_address(request))
            refused = misses.too_many(network, now)
            found = None if refused and not patient else find(token, now)
            if found is None:
                if not refused:
                    misses.count(network, now)
                response: HttpResponseBase = shut(request, status=429 if refused else 404, confirming=name == CONFIRM)
            else:
                thing, owner = found
                pressed = request.method == "POST" and not patient
                with translation.override(language_of(owner)):
                    if pressed and misses.too_many_deeds(hash_secret(name, token), now):
                        response = _too_many(request, links=False)
                    elif request.method == "POST" and not _can_be_read(request):
                        response = _unread(request)
                    else:
                        response = _view_or_miss(view, request, network, thing, token, **more)
            return response

        return opened

    return decorate


def _view_or_miss(
    view: View, request: HttpRequest, network: str, thing: object, token: str, **more: int | str
) -> HttpResponseBase:
    """An address that was altered behind a good secret is a miss too, and looks like any other."""
    try:
        return view(request, thing, token, **more)
    except OwnerErasedError:
        return shut(request, status=404)
    except Http404:
        misses.count(network, timezone.now())
        return shut(request, status=404)


def _can_be_read(request: HttpRequest) -> bool:
    try:
        request.POST  # noqa: B018  # taken apart at the first look
    except UNREADABLE:
        return False
    return True


def _unread(request: HttpRequest) -> HttpResponse:
    """What was sent is no form that can be read: cut short on its way, too long, or never one."""
    return render(request, "owner_pages/unread.html", {"page": _letters_page(request)}, status=400)


def _letters_page(request: HttpRequest) -> str:
    """The page of the letter whose form was refused; empty where the secret opens no such page."""
    match = request.resolver_match
    if match is None or match.view_name in {"owner_pages:confirm_email", "owner_pages:stop_letters"}:
        return ""
    return reverse("owner_pages:letter", kwargs={"token": match.kwargs["token"]})


def todays_date(letter: Letter) -> date:
    """What day it is for the owner of a letter."""
    return timezone.localdate(timezone=zone_for(letter.owner, letter))


def shut(request: HttpRequest, *, status: int, confirming: bool = False) -> HttpResponse:
    """The page behind which there is nothing, in the browser's language. `confirming`: where an e-mail address is confirmed."""
    with translation.override(translation.get_language_from_request(request)):
        if status == 429:
            return _too_many(request, links=True)
        return render(request, "owner_pages/not_found.html", {"confirming": confirming}, status=status)


def _too_many(request: HttpRequest, *, links: bool) -> HttpResponse:
    """Not so fast: `links` that open nothing, or else buttons of one that opens."""
    response = render(request, "owner_pages/too_many.html", {"links": links}, status=429)
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
        return render(request, "owner_pages/again.html", {"back": _letters_page(request) or request.path}, status=403)


link_csrf = decorator_from_middleware(_LinkCsrf)
