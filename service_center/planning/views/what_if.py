"""What if: another watchmaker, a closed week, other answers. Nothing but the question and its answer is written."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from service_center.access.signed_in import staff_of
from service_center.planning import actions
from service_center.planning.forms import WhatIfForm
from service_center.planning.models import Reckoning
from service_center.planning.queries.pictures import latest_picture, what_ifs
from service_center.planning.rules.picture import Picture, Sums
from service_center.planning.rules.words import ReckoningSort
from service_center.planning.showing.weeks import tables_of_proposal
from service_center.planning.showing.what_if import said_of
from service_center.planning.views.weeks import shown_of, weeks_asked_for
from service_center.planning.wording import why_failed


@require_http_methods(["GET", "HEAD", "POST"])
def ask(request: HttpRequest) -> HttpResponse:
    """Type what would be different; what was asked before stands below. Four statements."""
    posted = request.method == "POST"
    shown = latest_picture(weeks_asked_for(request.POST if posted else request.GET))
    context: dict[str, Any] = {
        **shown_of(shown),
        "asked": [{"reckoning": one, "said": said_of(one.about)} for one in what_ifs()],
    }
    if shown.picture is None:
        return render(request, "planning/what_if.html", context)
    form = WhatIfForm(request.POST if posted else None, first=shown.picture.first, weeks=shown.weeks)
    if posted and form.is_valid():
        reckoning = actions.ask_what_if(
            as_of=timezone.localdate(), weeks=shown.weeks, about=form.about(), at=timezone.now(), by=staff_of(request)
        )
        return redirect("planning:what_if_answer", pk=reckoning.pk)
    return render(request, "planning/what_if.html", {**context, "form": form}, status=422 if posted else 200)


@require_safe
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """What it would be like, beside the plan as it is. One statement."""
    asked = Reckoning.objects.filter(sort=ReckoningSort.WHAT_IF).select_related("asked_by").defer("problem")
    reckoning = get_object_or_404(asked, pk=pk)
    picture = Picture.from_json(reckoning.picture) if reckoning.picture else None
    beside = reckoning.about.get("beside")
    context = {
        "reckoning": reckoning,
        "under_way": None if reckoning.finished_at else reckoning,
        "failed": why_failed(reckoning),
        "said": said_of(reckoning.about),
        "picture": picture,
        "tables": tables_of_proposal(picture) if picture else [],
        "columns": [Sums(**beside["before"]), Sums(**beside["after"]), picture.before, picture.after]
        if picture and beside
        else [],
    }
    return render(request, "planning/what_if_answer.html", context)
