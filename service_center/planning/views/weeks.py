"""Bench hours by week and skill, the levelling proposal and accepting it: worked out by the worker, shown at once."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from service_center.access.signed_in import staff_of
from service_center.planning import actions
from service_center.planning.forms import HORIZONS, HorizonForm, HoursForm
from service_center.planning.models import AcceptedPlan, Reckoning
from service_center.planning.queries.benches import hours_by_skill
from service_center.planning.queries.pictures import USUAL_WEEKS, Shown, calendars_changed_since, latest_picture
from service_center.planning.rules.words import ReckoningSort
from service_center.planning.showing.weeks import tables_as_planned, tables_of_proposal
from service_center.planning.wording import why_failed


def weeks_asked_for(data: Any) -> int:
    """The horizon asked for, or the usual one."""
    form = HorizonForm(data)
    return int(form.cleaned_data["weeks"]) if form.is_valid() else USUAL_WEEKS


def shown_of(shown: Shown) -> dict[str, Any]:
    """What every page of a picture says about it."""
    return {
        "shown": shown,
        "picture": shown.picture,
        "under_way": shown.under_way,
        "failed": why_failed(shown.failed) if shown.failed and not shown.under_way else "",
        "horizons": HORIZONS,
        "calendars_changed": _calendars_changed(shown),
    }


def _calendars_changed(shown: Shown) -> bool:
    """Whether the weeks that are shown do not know of the benches' calendars as they are now."""
    made = shown.reckoning.begun_at if shown.reckoning and not shown.under_way else None
    return made is not None and calendars_changed_since(made)


@require_safe
def weeks(request: HttpRequest) -> HttpResponse:
    """Hours there are, promised and expected, as invitations are planned now. Seven statements."""
    shown = latest_picture(weeks_asked_for(request.GET))
    context = {
        **shown_of(shown),
        "tables": tables_as_planned(shown.picture) if shown.picture else [],
        "hours": hours_by_skill(),
        "latest": AcceptedPlan.objects.order_by("-pk").first(),
    }
    return render(request, "planning/weeks.html", context)


@require_safe
def proposal(request: HttpRequest) -> HttpResponse:
    """The levelled invitations beside how they stand; kept only when accepted. Five statements."""
    shown = latest_picture(weeks_asked_for(request.GET))
    tables = tables_of_proposal(shown.picture) if shown.picture else []
    sums = [shown.picture.before, shown.picture.after] if shown.picture else []
    return render(request, "planning/proposal.html", {**shown_of(shown), "tables": tables, "sums": sums})


@require_POST
def work_out(request: HttpRequest) -> HttpResponse:
    """Ask for the picture anew, and go back to where it is shown."""
    asked = weeks_asked_for(request.POST)
    actions.ask_for_picture(as_of=timezone.localdate(), weeks=asked, at=timezone.now(), by=staff_of(request))
    page = request.POST.get("page", "")
    back = reverse(f"planning:{page}" if page in ("proposal", "parts", "what_if") else "planning:weeks")
    return redirect(f"{back}?weeks={asked}")


@require_POST
def accept(request: HttpRequest) -> HttpResponse:
    """Ask that the proposal becomes the plan, if it is still the one that was seen."""
    asked = weeks_asked_for(request.POST)
    try:
        seen = float(request.POST.get("objective", ""))
    except ValueError:
        messages.warning(request, _("Nothing was accepted: the page did not say which proposal you saw."))
        return redirect(f"{reverse('planning:proposal')}?weeks={asked}")
    reckoning = actions.ask_to_accept(
        as_of=timezone.localdate(), weeks=asked, seen=seen, at=timezone.now(), by=staff_of(request)
    )
    return redirect("planning:accepting", pk=reckoning.pk)


@require_safe
def accepting(request: HttpRequest, pk: int) -> HttpResponse:
    """How accepting a plan goes, or went. One statement."""
    asked = Reckoning.objects.filter(sort=ReckoningSort.ACCEPT).defer("picture", "problem")
    reckoning = get_object_or_404(asked, pk=pk)
    context = {
        "reckoning": reckoning,
        "under_way": None if reckoning.finished_at else reckoning,
        "failed": why_failed(reckoning),
    }
    return render(request, "planning/accepting.html", context)


@require_safe
def progress(request: HttpRequest, pk: int) -> HttpResponse:
    """Whether something asked for is worked out: 200 when it is, 204 while it is under way. One statement."""
    reckoning = get_object_or_404(Reckoning.objects.only("finished_at"), pk=pk)
    return HttpResponse("done", content_type="text/plain") if reckoning.finished_at else HttpResponse(status=204)


@require_http_methods(["GET", "HEAD", "POST"])
def hours(request: HttpRequest) -> HttpResponse:
    """The bench hours that an overhaul takes in this house."""
    now = hours_by_skill()
    form = HoursForm(request.POST) if request.method == "POST" else HoursForm(initial=now)
    if request.method == "POST" and form.is_valid():
        for skill, typed in form.cleaned_data.items():
            if float(typed) != now[skill]:
                actions.keep_overhaul_hours(skill, typed, by=staff_of(request))
        actions.ask_for_picture(as_of=timezone.localdate(), weeks=USUAL_WEEKS, at=timezone.now(), by=staff_of(request))
        messages.success(request, _("The hours are kept."))
        return redirect("planning:weeks")
    return render(request, "planning/hours.html", {"form": form}, status=422 if form.errors else 200)
