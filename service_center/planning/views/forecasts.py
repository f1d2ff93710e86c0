"""What the letters bring, and how good past forecasts were."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from service_center.planning.forms import AheadForm
from service_center.planning.queries.pictures import USUAL_WEEKS, latest_picture
from service_center.planning.queries.scoring import what_came
from service_center.planning.rules.scoring import AHEAD
from service_center.planning.showing.curves import curve_table
from service_center.planning.showing.forecasts import picture_of_skill, score_rows
from service_center.planning.views.weeks import shown_of
from service_center.planning.wording import SKILLS

USUAL_AHEAD = 4


@require_safe
def curves(request: HttpRequest) -> HttpResponse:
    """How many come, and how long after the letter, by what it was about and its step. Five statements."""
    shown = latest_picture(USUAL_WEEKS)
    letters = [curve_table(one) for one in shown.picture.curves] if shown.picture else []
    return render(request, "planning/curves.html", {**shown_of(shown), "letters": letters})


@require_safe
def scores(request: HttpRequest) -> HttpResponse:
    """Past forecasts against what came, by how long ahead and skill, with the weeks themselves. Two statements."""
    form = AheadForm(request.GET)
    chosen = int(form.cleaned_data["ahead"]) if form.is_valid() else USUAL_AHEAD
    found = what_came(timezone.localdate())
    pictures = [
        picture_of_skill(name, [one for one in found.weeks if one.skill == skill and one.ahead == chosen])
        for skill, name in SKILLS.items()
    ]
    context = {
        "found": found,
        "rows": score_rows(found.weeks),
        "ahead": AHEAD,
        "chosen": chosen,
        "pictures": [one for one in pictures if one],
    }
    return render(request, "planning/scores.html", context)
