"""One step between a letter's link and what the letter itself does not say.

Mail scanners follow links, and what stands behind a mere look they read too (reliability.md, B4, owner links). History,
papers and an owner's particulars are therefore shown only to a browser in which somebody pressed a button within the
last half hour. The button writes nothing down: a cookie says it, signed, for this link alone.
"""

from datetime import timedelta
from functools import wraps
from secrets import compare_digest

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from service_center.letters.models import Letter
from service_center.letters.rules.words import LinkPurpose
from service_center.owner_pages.door import View, behind_link, link_csrf
from service_center.owner_pages.rules import hash_secret

COOKIE, SALT = "opened", "owner_pages.opened"
LASTS = timedelta(minutes=30)


def personal(view: View) -> View:
    """A view behind a letter's link that shows more than the letter does. Looks need the step; a button is one itself."""

    @wraps(view)
    def after_the_step(request: HttpRequest, letter: Letter, token: str, **more: int | str) -> HttpResponseBase:
        if request.method == "POST" and "open" in request.POST:
            return _opened(redirect(request.path), token)
        if request.method != "POST" and not _has_opened(request, token):
            return render(request, "owner_pages/open.html", {"letter": letter, "token": token})
        return view(request, letter, token, **more)

    behind = behind_link(LinkPurpose.PAGE)(link_csrf(after_the_step))
    # The check of forms is link_csrf's, which knows that these pages send no referrer.
    return csrf_exempt(require_http_methods(["GET", "HEAD", "POST"])(behind))


def _opened(response: HttpResponse, token: str) -> HttpResponse:
    response.set_signed_cookie(
        COOKIE,
        _mark(token),
        salt=SALT,
        max_age=LASTS,
        path=reverse("owner_pages:letter", kwargs={"token": token}),
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )
    return response


def _has_opened(request: HttpRequest, token: str) -> bool:
    said = request.get_signed_cookie(COOKIE, default="", salt=SALT, max_age=LASTS)
    return compare_digest(said or "", _mark(token))


def _mark(token: str) -> str:
    """What names the link without opening it."""
    return hash_secret(COOKIE, token)
