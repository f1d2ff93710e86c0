"""Bench hours by week and skill, the levelling proposal, and accepting it."""

from datetime import date
from math import isclose
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from service_center.access.models import Staff
from service_center.planning import actions, queries
from service_center.planning.forms import HORIZONS, HorizonForm, HoursForm
from service_center.planning.models import AcceptedPlan
from service_center.planning.promises_table import promises_table
from service_center.planning.queries.benches import hours_by_skill
from service_center.planning.queries.promises_kept import promises_kept
from service_center.planning.rules.levelling import standing, without_levelling
from service_center.planning.rules.programme import NotOptimal
from service_center.planning.rules.proposing import WEEKS_BEFORE_DUE
from service_center.planning.tables import proposal_tables, skill_tables

USUAL_WEEKS = 52


def _staff(request: HttpRequest) -> Staff:
    assert isinstance(request.user, Staff)  # the door let nobody else in
    return request.user


def _weeks_asked_for(data: Any) -> int:
    form = HorizonForm(data)
    return int(form.cleaned_data["weeks"]) if form.is_valid() else USUAL_WEEKS


@require_safe
def weeks(request: HttpRequest) -> HttpResponse:
    """Hours there are, promised and expected, as invitations are planned now. Eighteen statements at most, none by piece."""
    found = queries.levelling(timezone.localdate(), _weeks_asked_for(request.GET))
    now = standing(found.problem, without_levelling(found.problem, WEEKS_BEFORE_DUE))
    context = {
        "found": found,
        "tables": skill_tables(found, now, now),
        "now": now,
        "horizons": HORIZONS,
        "hours": hours_by_skill(),
        "latest": AcceptedPlan.objects.select_related("accepted_by").order_by("-pk").first(),
    }
    return render(request, "planning/weeks.html", context)


@require_safe
def proposal(request: HttpRequest) -> HttpResponse:
    """The levelled invitations beside how they stand; worked out anew at each look, kept only when accepted."""
    asked = _weeks_asked_for(request.GET)
    try:
        proposed = actions.look_at_levelling(as_of=timezone.localdate(), weeks=asked)
    except NotOptimal as fault:
        messages.error(request, _("No plan was found that could be proved: %(why)s") % {"why": fault})
        return redirect("planning:weeks")
    context = {
        "found": proposed.levelling,
        "proposal": proposed.proposal,
        "pieces": int(proposed.proposal.invited.sum()),
        "tables": proposal_tables(proposed),
        "horizons": HORIZONS,
    }
    return render(request, "planning/proposal.html", context)


@require_POST
def accept(request: HttpRequest) -> HttpResponse:
    """Make the proposal the plan, if it is still the one that was seen."""
    asked = _weeks_asked_for(request.POST)
    try:
        seen = float(request.POST.get("objective", ""))
        changed = actions.accept_levelling(
            as_of=timezone.localdate(), weeks=asked, at=timezone.now(), by=_staff(request),
            only_if=lambda one: isclose(one.proposal.objective, seen, rel_tol=1e-6, abs_tol=1e-6),
        )[1]  # fmt: skip
    except (ValueError, actions.NotAsSeen):
        messages.warning(request, _("The book has changed since you looked. This is the proposal as it is now."))
        return redirect(f"{reverse('planning:proposal')}?weeks={asked}")
    except NotOptimal as fault:
        messages.error(request, _("No plan was found that could be proved: %(why)s") % {"why": fault})
        return redirect("planning:weeks")
    said = ngettext("The plan is accepted: %(n)s day set.", "The plan is accepted: %(n)s days set.", changed)
    messages.success(request, said % {"n": changed})
    return redirect(f"{reverse('planning:weeks')}?weeks={asked}")


@require_safe
def promises(request: HttpRequest) -> HttpResponse:
    """How many orders of the last twelve months were ready by their promise. One statement."""
    today = timezone.localdate()
    first_month = date(today.year - 1, today.month, 1)
    return render(request, "planning/promises.html", {"table": promises_table(promises_kept(first_month, today))})


@require_http_methods(["GET", "HEAD", "POST"])
def hours(request: HttpRequest) -> HttpResponse:
    """The bench hours that an overhaul takes in this house."""
    now = hours_by_skill()
    form = HoursForm(request.POST) if request.method == "POST" else HoursForm(initial=now)
    if request.method == "POST" and form.is_valid():
        for skill, typed in form.cleaned_data.items():
            if float(typed) != now[skill]:
                actions.keep_overhaul_hours(skill, typed, by=_staff(request))
        messages.success(request, _("The hours are kept."))
        return redirect("planning:weeks")
    return render(request, "planning/hours.html", {"form": form}, status=422 if form.errors else 200)
