"""The desk rehearses a round: asked for, worked out by the worker, shown as soon as it is there."""

from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from service_center.access.signed_in import staff_of
from service_center.letters.desk.words import HELD_BECAUSE, KINDS, REASONS, STEPS
from service_center.letters.forms import DayForm
from service_center.letters.rehearsing.actions import ask_to_rehearse
from service_center.letters.rehearsing.models import Rehearsal
from service_center.letters.rehearsing.queries import lately, pieces_of, shown_of
from service_center.letters.rehearsing.rules import Rehearsed


@require_safe
def rehearsal(request: HttpRequest) -> HttpResponse:
    """What the round of a day would do, as it was worked out last. Five statements."""
    asked = DayForm(request.GET) if request.GET else None
    if asked and not asked.is_valid():
        return _page(request, asked, None)
    day = asked.cleaned_data["day"] if asked else timezone.localdate()
    return _page(request, DayForm(initial={"day": day}), day)


@require_POST
def rehearse(request: HttpRequest) -> HttpResponse:
    """Ask for the round of a day, and go where it is shown."""
    form = DayForm(request.POST)
    if not form.is_valid():
        return _page(request, form, None, status=422)
    day: date = form.cleaned_data["day"]
    ask_to_rehearse(day=day, at=timezone.now(), by=staff_of(request))
    return redirect(f"{reverse('letters:rehearsal')}?day={day.isoformat()}")


@require_safe
def progress(request: HttpRequest, pk: int) -> HttpResponse:
    """Whether a rehearsal is worked out: 200 when it is, 204 while it is under way. One statement."""
    one = get_object_or_404(Rehearsal.objects.only("finished_at"), pk=pk)
    return HttpResponse("done", content_type="text/plain") if one.finished_at else HttpResponse(status=204)


def _page(request: HttpRequest, form: DayForm, day: date | None, status: int = 200) -> HttpResponse:
    shown = shown_of(day) if day else None
    context: dict[str, Any] = {"form": form, "day": day, "lately": lately(), "shown": shown}
    if shown:
        context |= {"under_way": shown.under_way, "failed": _failed(shown.failed)}
    if shown and shown.found:
        context |= _words(shown.found)
    return render(request, "letters/rehearsal.html", context, status=status)


def _failed(one: Rehearsal | None) -> str:
    if one is None:
        return ""
    return _("It could not be worked out (%(why)s). Whoever looks after the site finds more in its journal.") % {
        "why": one.why
    }


def _words(found: Rehearsed) -> dict[str, Any]:
    pieces = pieces_of(found.examples)
    return {
        "found": found,
        "because": HELD_BECAUSE[found.unusual] if found.unusual else "",
        "steps": [(KINDS[kind], STEPS[step], count) for (kind, step), count in sorted(found.steps.items())],
        "reasons": [(REASONS[reason], count) for reason, count in found.reasons.most_common()],
        "examples": [
            [
                (pieces[one.piece], KINDS[one.kind], STEPS[one.step], one.comes_up_on)
                for one in letter
                if one.piece in pieces
            ]
            for letter in found.examples
        ],
        "left_out": [(one.serial, REASONS[one.reason]) for one in found.not_written],
    }
