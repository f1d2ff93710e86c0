"""An owner's data: a copy of it, a correction, erasure."""

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from service_center.letters.models import Letter
from service_center.owner_pages import actions
from service_center.owner_pages.copying import copy_of
from service_center.owner_pages.data_paper import data_paper
from service_center.owner_pages.data_words import REQUESTS, grounds, left_out, request_in_words
from service_center.owner_pages.details_forms import REQUEST_FULL, CorrectionForm
from service_center.owner_pages.door import todays_date
from service_center.owner_pages.opening import personal
from service_center.owner_pages.queries import open_request, requests_of
from service_center.owner_pages.rules import COPIES_A_DAY, RequestKind

FORMS = {"json", "pdf"}


@personal
def data(request: HttpRequest, letter: Letter, token: str) -> HttpResponse:
    """What can be asked, and what became of what was asked."""
    return _page(request, letter, token)


@personal
def copy(request: HttpRequest, letter: Letter, token: str) -> HttpResponse:
    """The copy itself, made at once and written down. A look leads to the page."""
    form = request.POST.get("form", "")
    if request.method != "POST":
        return _back(token)
    if form not in FORMS:
        return _page(request, letter, token, unheard=True, status=400)
    now, today = timezone.now(), todays_date(letter)
    try:
        actions.note_copy(letter, form=form, on=today, now=now)
    except actions.TooManyCopiesError:
        return _page(request, letter, token, too_many=True, status=429)
    headers = {"Content-Disposition": f'attachment; filename="{today.isoformat()}.{form}"'}
    if form == "pdf":
        return HttpResponse(data_paper(letter.owner, now=now), content_type="application/pdf", headers=headers)
    shown = {"ensure_ascii": False, "indent": 2}
    return JsonResponse(copy_of(letter.owner, now=now), json_dumps_params=shown, headers=headers)


@personal
def ask(request: HttpRequest, letter: Letter, token: str) -> HttpResponse:
    """Ask for a correction or for erasure. A look leads to the page."""
    kind = request.POST.get("kind", "")
    if request.method != "POST":
        return _back(token)
    if kind not in {RequestKind.CORRECTION, RequestKind.ERASURE}:
        return _page(request, letter, token, unheard=True, status=400)
    form, said = CorrectionForm(request.POST, auto_id="correction-%s"), ""
    if kind == RequestKind.CORRECTION:
        if not form.is_valid():
            return _page(request, letter, token, correction=form, status=422)
        said = form.cleaned_data["said"]
    try:
        actions.ask(letter, RequestKind(kind), said=said, on=todays_date(letter), now=timezone.now())
    except actions.RequestFullError:
        form.add_error("said", REQUEST_FULL)
        return _page(request, letter, token, correction=form, status=422)
    return _back(token, "?thanks#asked")


def _back(token: str, rest: str = "") -> HttpResponse:
    return redirect(reverse("owner_pages:data", kwargs={"token": token}) + rest)


def _page(
    request: HttpRequest,
    letter: Letter,
    token: str,
    *,
    correction: CorrectionForm | None = None,
    too_many: bool = False,
    unheard: bool = False,
    status: int = 200,
) -> HttpResponse:
    asked = [one for one in requests_of(letter.owner) if one.kind != RequestKind.DETAILS]
    context = {
        "letter": letter,
        "token": token,
        "thanks": "thanks" in request.GET,
        "too_many": too_many,
        "unheard": unheard,
        "copies": COPIES_A_DAY,
        "correction": correction or CorrectionForm(auto_id="correction-%s"),
        "correction_open": correction is not None,
        "erasure": open_request(letter.owner, RequestKind.ERASURE),
        "asked": [{"one": one, "kind": REQUESTS[one.kind], "state": request_in_words(one)} for one in asked],
        "grounds": grounds(),
        "left_out": left_out(),
    }
    return render(request, "owner_pages/data.html", context, status=status)
