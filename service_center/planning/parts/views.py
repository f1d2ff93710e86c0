"""Parts of the coming months: the page, the order list on paper, and writing down what was ordered."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from service_center.access.rules import may_open
from service_center.access.signed_in import staff_of
from service_center.book.rules import EntryKind
from service_center.papers.rules import PageSize
from service_center.planning.parts.forms import BaseLines, CoverForm, Lines, OrderForm, lines_to_order, suggested
from service_center.planning.parts.order_list import COVERS, PartsList, parts_list
from service_center.planning.parts.papers import SIZES, order_paper
from service_center.planning.queries.pictures import USUAL_WEEKS, latest_picture
from service_center.planning.rules.parts import Rate
from service_center.workshop.models import Part
from service_center.workshop.parts.ordered import actions
from service_center.workshop.parts.queries import parts_named
from service_center.workshop.words import KINDS

PAGE = 50


@require_safe
def parts(request: HttpRequest) -> HttpResponse:
    """What each part is needed for and what to order by when; with `?all=` also what lasts. Six statements."""
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
        "may_order": may_open("planning:write_order", staff_of(request).role),
    }
    return render(request, "planning/parts.html", context)


def _page_of(found: PartsList, request: HttpRequest) -> dict[str, Any]:
    """So many parts at a time, the most urgent first; the groups keep their order over the pages."""
    groups = {"now": found.now, "later": found.later, "enough": found.enough if "all" in request.GET else []}
    named = [(name, row) for name, rows in groups.items() for row in rows]
    page = Paginator(named, PAGE).get_page(request.GET.get("page"))
    shown = [row for _group, row in page]
    kinds = [kind for kind in EntryKind if any(_says_something(row.rates[kind]) for row in shown)]
    return {
        "page": page,
        "pressing": found.pressing,
        "kinds": [KINDS[kind] for kind in kinds],
        "uses": [{"part": row.part, "kinds": [_use(row.rates[kind]) for kind in kinds]} for row in shown],
        **{f"{name}_rows": [row for group, row in page if group == name] for name in groups},
    }


def _says_something(rate: Rate) -> bool:
    """Whether an order of its kind was closed, or common practice has it use such a part."""
    return bool(rate.orders or rate.usual)


def _use(rate: Rate) -> dict[str, float] | None:
    if not _says_something(rate):
        return None
    low, high = rate.likely()
    return {"mean": rate.mean, "low": low, "high": high, "used": rate.used, "orders": rate.orders}


@require_safe
def paper(request: HttpRequest) -> HttpResponse:
    """The order list, A4 unless `?size=letter`. Six statements."""
    shown, as_of = latest_picture(USUAL_WEEKS), timezone.localdate()
    if shown.picture is None:
        return redirect("planning:parts")  # which says that the weeks have not been worked out yet
    found = parts_list(shown.picture, as_of, CoverForm.asked_for(request.GET))
    size = next((one for one in SIZES if one.value == request.GET.get("size")), PageSize.A4)
    content = order_paper(found.now, found.later, as_of=as_of, size=size, language=get_language() or "en")
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="parts-{as_of.isoformat()}.pdf"'
    return response


@require_http_methods(["GET", "HEAD", "POST"])
def write_order(request: HttpRequest) -> HttpResponse:
    """Write down what was ordered: the list's lines, or a part that is asked for by `?part=`."""
    as_of = timezone.localdate()
    form = OrderForm(request.POST if request.method == "POST" else None, as_of=as_of)
    lines = Lines(request.POST, prefix="lines") if request.method == "POST" else None
    if lines is not None:
        lines.ordered_on = form.cleaned_data["ordered_on"] if form.is_valid() and form.cleaned_data else None
        if lines.is_valid() and form.is_valid():
            order = actions.write_order(
                lines.lines(), **form.cleaned_data, at=timezone.now(), by=staff_of(request)
            )  # fmt: skip
            messages.success(request, _("%(order)s is written down.") % {"order": order.number})
            return redirect("workshop:ordered_parts")
    found = _list_on(request, as_of)
    lines = lines or _begun(request, found, as_of)
    numbers = [str(line["number"].value() or "").strip() for line in lines]
    parts, orders = parts_named(numbers), suggested(found)
    context = {
        "form": form,
        "lines": lines,
        "as_of": as_of,
        "rows": [
            {"line": line, "part": parts.get(number), "suggested": orders.get(number)}
            for line, number in zip(lines, numbers, strict=True)
        ],
    }
    return render(request, "planning/write_order.html", context, status=422 if request.method == "POST" else 200)


def _list_on(request: HttpRequest, as_of: date) -> PartsList | None:
    picture = latest_picture(USUAL_WEEKS).picture
    return parts_list(picture, as_of, CoverForm.asked_for(request.GET)) if picture else None


def _begun(request: HttpRequest, found: PartsList | None, as_of: date) -> BaseLines:
    asked = request.GET.get("part", "")
    wanted = (
        Part.objects.filter(pk=int(asked)).first() if asked.isascii() and asked.isdigit() and len(asked) < 10 else None
    )
    return Lines(prefix="lines", initial=lines_to_order(found, wanted, as_of))
