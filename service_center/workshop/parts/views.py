"""The shelf: parts with their stock, one part, and what an order used."""

from datetime import date
from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from service_center.access.models import Staff
from service_center.access.rules import may_open
from service_center.access.signed_in import staff_of
from service_center.workshop.orders.models import WorkOrder
from service_center.workshop.parts import actions
from service_center.workshop.parts.forms import PartForm, StockForm
from service_center.workshop.parts.models import Part
from service_center.workshop.parts.ordered.actions import receive
from service_center.workshop.parts.ordered.models import OrderedPart
from service_center.workshop.parts.ordered.queries import awaited_by_part, latest_lines_of, open_lines_of
from service_center.workshop.parts.queries import parts_for, parts_with_stock, stock_of, used_by
from service_center.workshop.parts.rules import PartSort, StockReason
from service_center.workshop.parts.words import REASONS, SORTS

LATEST = 20


@require_safe
def parts(request: HttpRequest) -> HttpResponse:
    """Every part in use with what lies on the shelf. One statement."""
    rows = [{"part": part, "sort": SORTS[PartSort(part.sort)]} for part in parts_with_stock()]
    return render(request, "workshop/parts.html", {"rows": rows})


@require_http_methods(["GET", "HEAD", "POST"])
def new_part(request: HttpRequest) -> HttpResponse:
    """A part that the shelf does not know yet."""
    return _part_page(request, None)


@require_http_methods(["GET", "HEAD", "POST"])
def part(request: HttpRequest, pk: int) -> HttpResponse:
    """One part: what it is, how it is ordered, and how its stock moved."""
    return _part_page(request, get_object_or_404(Part.objects.select_related("calibre", "model"), pk=pk))


def _part_page(request: HttpRequest, one: Part | None) -> HttpResponse:
    posted = request.method == "POST"
    moves_stock = posted and one is not None and "reason" in request.POST
    form = PartForm(request.POST if posted and not moves_stock else None, part=one)
    stock = StockForm(request.POST if moves_stock else None, awaited=open_lines_of(one) if one else ())
    if one and moves_stock and stock.is_valid():
        _move(one, stock, staff_of(request))
        messages.success(request, _("The shelf is written down."))
        return redirect("workshop:part", pk=one.pk)
    if posted and not moves_stock and form.is_valid():
        try:
            kept = actions.keep_part(one, **form.deed(), by=staff_of(request))
        except actions.NumberTakenError:
            form.add_error("number", _("Another part has this number."))
        else:
            messages.success(request, _("The part is kept."))
            return redirect("workshop:part", pk=kept.pk)
    status = 422 if form.errors or stock.errors else 200
    return render(request, "workshop/part.html", _part_context(one, form, stock, staff_of(request)), status=status)


def _move(one: Part, stock: StockForm, by: Staff) -> None:
    data, at = stock.cleaned_data, timezone.now()
    if stock.line:
        receive(stock.line, data["quantity"], at=at, by=by, form_key=data["form_key"])
    else:
        reason = StockReason(data["reason"])
        actions.move_stock(one, data["quantity"], reason, at=at, by=by, form_key=data["form_key"])


def _part_context(one: Part | None, form: PartForm, stock: StockForm, by: Staff) -> dict[str, Any]:
    moves = one.moves.select_related("order", "delivery__line__order").order_by("-pk")[:LATEST] if one else []
    as_of = timezone.localdate()
    return {
        "part": one,
        "on_hand": stock_of(one) if one else None,
        "form": form,
        "stock": stock,
        "ordered": [_ordered(line, as_of) for line in latest_lines_of(one)] if one else [],
        "may_order": may_open("planning:write_order", by.role),
        "moves": [{"move": move, "reason": REASONS[StockReason(move.reason)]} for move in moves],
    }


def _ordered(line: OrderedPart, as_of: date) -> dict[str, Any]:
    """`open`: what is still to come of it; None where nothing is."""
    still = getattr(line, "on_order", None)
    return {"line": line, "open": still, "late": still is not None and still.expected_on < as_of}


@require_http_methods(["GET", "HEAD", "POST"])
def order_parts(request: HttpRequest, number: str) -> HttpResponse:
    """What an order used, at one tap a part."""
    orders = WorkOrder.objects.select_related("piece__model__calibre")
    order = get_object_or_404(orders, number=number)
    if request.method == "POST":
        _use(request, order)
        return redirect("workshop:order_parts", number=order.number)
    used = used_by(order)
    numbers = {one.pk: quantity for one, quantity in used}
    fitting = parts_for(order)
    shown = {one.pk for one in fitting}
    rows = [*fitting, *(one for one, _quantity in used if one.pk not in shown)]
    awaited = awaited_by_part()
    context = {
        "order": order,
        "rows": [
            {
                "part": one,
                "sort": SORTS[PartSort(one.sort)],
                "used": numbers.get(one.pk, 0),
                "awaited": next(iter(awaited.get(one.pk, [])), None),
                "key": uuid4(),
            }
            for one in rows
        ],
    }
    return render(request, "workshop/order_parts.html", context)


def _use(request: HttpRequest, order: WorkOrder) -> None:
    try:
        one = Part.objects.get(pk=int(request.POST.get("part", "")))
        key, quantity = UUID(request.POST.get("form_key", "")), int(request.POST.get("quantity", ""))
        actions.use_part(order, one, quantity, at=timezone.now(), by=staff_of(request), form_key=key)
    except (Part.DoesNotExist, ValueError, OverflowError) as refused:
        messages.error(request, _said(refused))


def _said(refused: Exception) -> str:
    if isinstance(refused, actions.OrderClosedError):
        return _("The piece was handed back; what its order used stays as it is.")
    if isinstance(refused, actions.NotUsedError):
        return _("The order used none of these, so none can be put back.")
    return _("Which part, and how many? Nothing was kept.")
