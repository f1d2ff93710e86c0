"""Reading a sheet with one hand."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from service_center.access.signed_in import staff_of
from service_center.bench import actions, queries
from service_center.bench.forms import SheetForm
from service_center.bench.orders.one_hand import Turn, beside_each, came_in, places_of, turn
from service_center.bench.views.sheets import grid_page
from service_center.book.queries import pieces_visible_to
from service_center.intake.wording import POSITIONS
from service_center.measurements.queries import judging_of
from service_center.measurements.readings_grid import VALUES, Grid
from service_center.workshop.orders.models import WorkOrder

NOT_CARRIED = frozenset({"csrfmiddlewaretoken", "at", "to"})


@require_http_methods(["GET", "HEAD", "POST"])
def one_hand(request: HttpRequest, number: str) -> HttpResponse:
    """One position a page; each tap carries what was typed on. What cannot be kept opens in the whole grid."""
    orders = WorkOrder.objects.select_related("piece__model__calibre", "piece__owner", "boutique")
    order = get_object_or_404(orders, number=number, piece__in=pieces_visible_to(staff_of(request)))
    piece, places = order.piece, places_of(order)
    known: dict[str, Any] = {
        "piece": piece,
        "judging": judging_of(queries.calibre_of(piece)),
        "as_of": timezone.localdate(),
    }
    if request.method != "POST":
        return _page(request, order, SheetForm(**known), turn(places, ""))
    form = SheetForm(request.POST, **known)
    here = turn(places, request.POST.get("at", ""))
    form.is_valid()
    if request.POST.get("to") == "grid":
        typed = {name: value for name, value in request.POST.items() if name not in NOT_CARRIED}
        whole = SheetForm(**known, initial=typed)
        return grid_page(request, piece, whole, action=reverse("bench:new_sheet", args=[piece.pk]))
    if _wrong_here(form, here):
        return _page(request, order, form, here, status=422)
    if request.POST.get("to") != "keep":
        return _page(request, order, form, turn(places, request.POST.get("to", "")))
    if form.errors:
        return grid_page(request, piece, form, action=reverse("bench:new_sheet", args=[piece.pk]), status=422)
    kept = actions.record_sheet(
        piece,
        form.sitting(),
        form_key=form.cleaned_data["form_key"],
        by=staff_of(request),
        as_of=timezone.localdate(),
    )
    messages.success(request, _("The sheet is kept."))
    return redirect("bench:sheet", pk=piece.pk, sheet=kept.pk)


def _names(here: Turn) -> list[str]:
    return [Grid.name(here.wind, here.position, value) for value in VALUES]


def _wrong_here(form: SheetForm, here: Turn) -> bool:
    return any(form.errors.get(name) for name in _names(here))


def _sent(value: Any) -> Any:
    """As a form sends it: a day in words is for people, and no form reads it back."""
    return value.isoformat() if isinstance(value, date) else value


def _page(request: HttpRequest, order: WorkOrder, form: SheetForm, here: Turn, *, status: int = 200) -> HttpResponse:
    names = _names(here)
    typed = {name: value for name, value in request.POST.items() if name not in NOT_CARRIED}
    carried = typed or {name: _sent(form.get_initial_for_field(field, name)) for name, field in form.fields.items()}
    form.fields[names[0]].widget.attrs["autofocus"] = True
    beside = beside_each(judging_of(queries.calibre_of(order.piece)), here, came_in(order, here))
    context = {
        "order": order,
        "turn": here,
        "place": POSITIONS[here.position],
        "cells": [(form[name], beside[value]) for name, value in zip(names, VALUES, strict=True)],
        "lift_angle": carried.get("lift_angle_deg"),
        "carried": {name: value for name, value in carried.items() if name not in names and value not in (None, "")},
        "before": here.at - 1,
        "next": here.at + 1,
        "shows_errors": status != 200,
    }
    return render(request, "bench/one_hand.html", context, status=status)
