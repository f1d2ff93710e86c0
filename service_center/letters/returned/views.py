"""The desk's page of what came back, and the door for the mail provider's calls."""

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_safe

from service_center.access.signed_in import staff_of
from service_center.letters import actions
from service_center.letters.forms import WriteAgainForm
from service_center.letters.models import StoppedAddress
from service_center.letters.queries import bounces as queries
from service_center.letters.returned import provider
from service_center.letters.returned.words import told_of, why_stopped

CALL_AT_MOST = 1_048_576


@require_safe
def bounces(request: HttpRequest) -> HttpResponse:
    """What came back lately, which addresses are stopped and why, and what the house must mend. Six statements."""
    page = queries.stopped_addresses(_before(request.GET.get("before", "")))
    return render(
        request,
        "letters/bounces.html",
        {
            "alarm": queries.alarm(timezone.now()),
            "boxes": queries.boxes(),
            "reading": bool(settings.BOUNCE_MAILBOX_URL or settings.BOUNCE_FOLDER or settings.MAIL_PROVIDER),
            "stopped": [{"address": one, "why": why_stopped(one)} for one in page.rows],
            "following": page.following,
            "shown": queries.SHOWN,
            "failures": [told_of(one) for one in queries.latest_failures()],
        },
    )


def _before(text: str) -> int | None:
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) < 19):
        raise Http404("no such page")
    return int(text)


@require_http_methods(["GET", "HEAD", "POST"])
def write_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Let letters go to a stopped address again, and say why."""
    stopped = StoppedAddress.objects.select_related("letter__owner").filter(pk=pk).first()
    if stopped is None:  # on a page from before somebody else decided
        messages.warning(request, _("Nothing was changed: letters go to this address already."))
        return redirect("letters:bounces")
    form = WriteAgainForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        actions.write_again(stopped, by=staff_of(request), reason=form.cleaned_data["reason"], at=timezone.now())
        messages.success(request, _("Letters go to this address again."))
        return redirect("letters:bounces")
    return render(request, "letters/write_again.html", {"stopped": stopped, "why": why_stopped(stopped), "form": form})


@csrf_exempt
@require_http_methods(["POST", "HEAD"])
def provider_events(request: HttpRequest) -> HttpResponse:
    """What the mail provider tells. 200 once it is kept, 403 without its signature, 413 for more than a mebibyte.

    Some providers look with HEAD whether anybody is here.
    """
    if request.method == "HEAD":
        return HttpResponse()
    if not settings.MAIL_PROVIDER:
        raise Http404("no mail provider")
    if int(request.META.get("CONTENT_LENGTH") or 0) > CALL_AT_MOST:
        return HttpResponse(status=413)
    body = request.body  # before the form in it is read, which would use it up
    try:
        provider.check_signature(request, provider=settings.MAIL_PROVIDER, key=settings.MAIL_PROVIDER_KEY)
    except provider.NotSigned:
        return HttpResponse(status=403)
    actions.take_call(content_type=request.META.get("CONTENT_TYPE", ""), body=body)
    return HttpResponse()
