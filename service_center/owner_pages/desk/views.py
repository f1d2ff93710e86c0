"""The desk's pages of what owners ask: open requests, and one with what has to be decided."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from service_center.access.signed_in import staff_of
from service_center.book.countries import name_of_country
from service_center.book.wording import name_of_language
from service_center.letters.queries.bounces import stop_of
from service_center.owner_pages import actions
from service_center.owner_pages.desk import queries
from service_center.owner_pages.desk.forms import DecisionForm
from service_center.owner_pages.desk.words import NOTICE_STATES, NOTICES, TO_DECIDE, request_row, told
from service_center.owner_pages.models import OwnerRequest
from service_center.owner_pages.queries import postal_address_of
from service_center.owner_pages.rules import RequestKind, RequestState, version_of


@require_safe
def requests(request: HttpRequest) -> HttpResponse:
    """What owners ask, the most urgent first, and what they did lately."""
    asked, today = queries.what_owners_ask(), timezone.localdate()
    context = {
        "open": [request_row(one) | {"late": one.due_on < today} for one in asked.open],
        "more": asked.more,
        "lately": [request_row(one) for one in asked.lately],
    }
    return render(request, "owners/requests.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def request_page(request: HttpRequest, pk: int) -> HttpResponse:
    """One request: whose, what they want, what has to be decided, and what was changed of this owner before."""
    found = get_object_or_404(OwnerRequest.objects.select_related("owner", "decided_by", "letter"), pk=pk)
    form = DecisionForm(request.POST or None, initial={"seen": version_of(found.said)})
    if request.method == "POST" and form.is_valid():
        try:
            actions.decide(
                found,
                RequestState(form.cleaned_data["state"]),
                seen=form.cleaned_data["seen"],
                reason=form.cleaned_data["reason"],
                by=staff_of(request),
                now=timezone.now(),
            )
        except actions.AlreadyDecidedError:
            messages.warning(request, _("Nothing was changed: somebody else decided meanwhile."))
            return redirect("owners:request", pk=pk)
        except actions.AskedOtherwiseError:
            found.refresh_from_db(fields=["said"])
            form.asked_otherwise(found.said)
        else:
            messages.success(request, _("Written down. The owner reads your answer on their page."))
            return redirect("owners:request", pk=pk)
    context = request_row(found) | {
        "form": form,
        "asks": found.state == RequestState.OPEN,
        "to_decide": TO_DECIDE.get(RequestKind(found.kind), ""),
        "address": postal_address_of(found.owner),
        "country": name_of_country(found.owner.country),
        "spoken": name_of_language(found.owner.language),
        "stopped": stop_of(found.owner.email),
        "trail": [told(one) for one in queries.trail_of(found.owner)],
        "notices": [
            {"one": one, "kind": NOTICES[one.kind], "state": NOTICE_STATES[one.state]}
            for one in queries.notices_of(found.owner)
        ],
    }
    return render(request, "owners/request.html", context, status=422 if form.errors else 200)
