"""The demo's mailbox: what owners received, as they see it. There is none outside the demo."""

from pathlib import Path

from csp.decorators import csp
from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.clickjacking import xframe_options_sameorigin
from django.views.decorators.http import require_safe

from service_center.demo import mailbox as store

PAGE = 50


def _folder() -> Path:
    if not settings.DEMO:
        raise Http404
    return settings.DATA_DIR / "demo-mail"


def _mail(key: str) -> store.Mail:
    found = store.mail(_folder(), key)
    if found is None:
        raise Http404
    return found


@require_safe
def mailbox(request: HttpRequest) -> HttpResponse:
    """What arrived, newest first, a page of fifty."""
    folder = _folder()
    keys = store.keys(folder, before=request.GET.get("before", ""), limit=PAGE + 1)
    mails = [found for key in keys[:PAGE] if (found := store.mail(folder, key))]
    older = keys[PAGE - 1] if len(keys) > PAGE else ""
    return render(request, "demo/mailbox.html", {"mails": mails, "older": older, "first": "before" not in request.GET})


@require_safe
def mail(request: HttpRequest, key: str) -> HttpResponse:
    """One mail: its headers, its HTML in a frame of its own, and its text."""
    return render(request, "demo/mail.html", {"mail": _mail(key), "headers": list(_mail(key).message.items())})


# The mail brings its own styles and nothing that runs; a click opens the owner's page beside the desk.
@csp(  # type: ignore[arg-type]  # its types know no argument from the address
    {
        "default-src": ["'none'"],
        "style-src": ["'unsafe-inline'"],
        "img-src": ["data:"],
        "frame-ancestors": ["'self'"],
        "sandbox": ["allow-popups", "allow-popups-to-escape-sandbox"],
    }
)
@xframe_options_sameorigin
@require_safe
def mail_html(request: HttpRequest, key: str) -> HttpResponse:
    """The HTML of one mail as a mail program would show it, its links opening in a new tab."""
    return HttpResponse(_mail(key).html.replace("<head>", '<head><base target="_blank">', 1))
