"""One step of a drop-off as a page: its form, what is marked in it, and what stands beside it."""

import json
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.translation import gettext as _

from service_center.intake.drafts.actions import AtItError
from service_center.intake.drafts.started import Started, Step
from service_center.intake.drafts.wording import NO_QUOTE, STEPS
from service_center.intake.pages import guarantee_of, owed
from service_center.intake.photographs.queries import MOST_PHOTOGRAPHS
from service_center.intake.wording import CAUTIONS
from service_center.measurements.models import MachineFile

MOST_MARKS = 5


def step_page(
    request: HttpRequest,
    begun: Started,
    at: Step,
    form: Any,
    *,
    status: int = 200,
    at_it: AtItError | None = None,
) -> HttpResponse:
    """The step with its form, whether as it was kept or as it was sent. `at_it`: who took the drop-off over meanwhile."""
    context: dict[str, Any] = {
        "draft": begun.draft,
        "piece": begun.piece,
        "owner": begun.piece.owner if begun.shows_owner else None,
        "shows_owner": begun.shows_owner,
        "form": form,
        "step": at.value,
        "template": f"intake/steps/{at.value}.html",
        "steps": [
            {"value": one.value, "name": STEPS[one], "kept": begun.is_kept(one), "here": one is at} for one in Step
        ],
        "marks": _marks(form),
        "at_it": at_it,
        "last": at is Step.SIGN,
    }
    return render(request, "intake/step.html", {**context, **_beside(begun, at, form)}, status=status)


def _marks(form: Any) -> list[dict[str, Any]]:
    """The first of the fields that are marked, to be named at the head of the page: they may lie below the screen."""
    if not form.is_bound:
        return []
    found = [
        {"label": field.label, "anchor": field.id_for_label or f"{field.auto_id}_error", "error": field.errors[0]}
        for field in form.visible_fields()
        if field.errors
    ]
    if "strokes" in form.errors:
        found.append({"label": _("Signature"), "anchor": "glass_error", "error": form.errors["strokes"][0]})
    return found[:MOST_MARKS]


def _promising(begun: Started) -> dict[str, Any]:
    """What is offered, and the day that was promised for other work."""
    return {
        "offer": begun.offer,
        "no_quote": NO_QUOTE.get(begun.offer.why_not),
        "promised_before": parse_date(begun.promised_before),
    }


def _drawn(begun: Started, form: Any) -> str:
    """The signature as it was sent, where another field is at fault: never under a text other than the one it was under."""
    if not form.is_bound or "strokes" in form.errors or form.data.get("seen") != begun.seen:
        return ""
    return json.dumps(form.cleaned_data["strokes"])


def _beside(begun: Started, at: Step, form: Any) -> dict[str, Any]:
    """What a step shows beside its form."""
    match at:
        case Step.STORY | Step.PROMISE:
            return {
                "due": owed(begun.piece, timezone.localdate()),
                "guarantee": guarantee_of(begun.decision),
                "cautions": [CAUTIONS[one] for one in begun.cautions],
                **(_promising(begun) if at is Step.PROMISE else {}),
            }
        case Step.CONDITION:
            return {"photographs": begun.photographs, "most": MOST_PHOTOGRAPHS}
        case Step.SIGN:
            faults = [{"value": one.value, "name": STEPS[one]} for one in begun.faults]
            if faults:
                return {"faults": faults}
            text = {"sections": begun.sections, "seen": begun.seen, "owners_language": begun.language}
            return {"faults": faults, **text, "strokes": _drawn(begun, form)}
        case Step.READINGS:
            machines = MachineFile.objects.order_by("name")
            return {"tests_go_on": begun.tests_go_on, "machines": machines}
