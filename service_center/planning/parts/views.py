"""Parts of the coming months: the page and the order list on paper."""

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import get_language
from django.views.decorators.http import require_safe

from service_center.access.rules import may_open
from service_center.access.signed_in import staff_of
from service_center.papers.rules import PageSize
from service_center.planning.actions.ticking import USUAL_WEEKS
from service_center.planning.parts.forms import CoverForm
from service_center.planning.parts.order_list import COVERS, PartsList, parts_list
from service_center.planning.parts.papers import SIZES, order_paper
from service_center.planning.queries.pictures import latest_picture

PAGE = 50


@require_safe
def parts(request: HttpRequest) -> HttpResponse:
    """What each part is needed for and what to order by when; with `?all=` also what lasts. Five statements."""
    shown, cover = latest_picture(USUAL_WEEKS), CoverForm.asked_for(request.GET)
    found = parts_list(shown.picture, timezone.localdate(), cover) if shown.picture else None
    context = {
        **(_page_of(found, request) if found else {}),
        "shown": shown,
        "under_way": shown.under_way,
        "found": found,
        "cover": cover,
        "covers": COVERS,
        "show_all": "all" in request.GET,
        "sees_weeks": may_open("planning:weeks", staff_of(request).role),
    }
    return render(request, "planning/parts.html", context)


def _page_of(found: PartsList, request: HttpRequest) -> dict[str, Any]:
    """So many parts at a time, the most urgent first; the groups keep their order over the pages."""
    groups = {"now": found.now, "later": found.later, "enough": found.enough if "all" in request.GET else []}
    named = [(name, row) for name, rows in groups.items() for row in rows]
    page = Paginator(named, PAGE).get_page(request.GET.get("page"))
    return {"page": page, **{f"{name}_rows": [row for group, row in page if group == name] for name in groups}}


@require_safe
def paper(request: HttpRequest) -> HttpResponse:
    """The order list, A4 unless `?size=letter`. Five statements."""
    shown, as_of = latest_picture(USUAL_WEEKS), timezone.localdate()
    if shown.picture is None:
        return redirect("planning:parts")  # which says that the weeks have not been worked out yet
    found = parts_list(shown.picture, as_of, CoverForm.asked_for(request.GET))
    size = next((one for one in SIZES if one.value == request.GET.get("size")), PageSize.A4)
    content = order_paper(found.now, found.later, as_of=as_of, size=size, language=get_language() or "en")
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="parts-{as_of.isoformat()}.pdf"'
    return response
