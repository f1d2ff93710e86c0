"""Standard minutes: the house's table, what was learnt beside it, and taking it over."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from service_center.access.signed_in import staff_of
from service_center.book.rules import Complexity, EntryKind
from service_center.workshop.orders.rules.operations import Time
from service_center.workshop.times.actions import keep_time
from service_center.workshop.times.forms import TimesForm, minutes_name, wait_name
from service_center.workshop.times.queries import Row, table_of
from service_center.workshop.words import KINDS, OPERATIONS, SKILLS


@require_http_methods(["GET", "HEAD", "POST"])
def times(request: HttpRequest, kind: str) -> HttpResponse:
    """The table of one kind of order. A learnt figure is taken over by a person, or not at all."""
    order_kind = EntryKind(kind)
    rows = table_of(order_kind, timezone.localdate())
    if request.method == "POST" and request.POST.get("take_over"):
        return _take_over(request, order_kind, rows)
    form = TimesForm(request.POST if request.method == "POST" else None, rows=rows, words=OPERATIONS, skills=SKILLS)
    if request.method == "POST" and form.is_valid():
        changed = sum(
            keep_time(order_kind, cell.complexity, row.operation, typed, by=staff_of(request))
            for row in rows
            for cell in row.cells
            if (typed := form.time(row.operation, cell.complexity)) != (cell.time or Time(0))
        )
        messages.success(
            request,
            ngettext("%(n)s time is changed.", "%(n)s times are changed.", changed) % {"n": changed}
            + " "
            + _("Orders in the house keep the time they were planned with."),
        )
        return redirect("workshop:times", kind=kind)
    return render(request, "workshop/times.html", _context(order_kind, rows, form), status=422 if form.errors else 200)


def _take_over(request: HttpRequest, kind: EntryKind, rows: list[Row]) -> HttpResponse:
    """One learnt figure becomes the house's, with the wait that stands there."""
    operation, _dot, complexity = request.POST["take_over"].partition("/")
    for row in rows:
        for cell in row.cells:
            if (row.operation.value, cell.complexity.value) == (operation, complexity) and cell.learnt:
                wait = cell.time.wait_hours if cell.time else 0
                learnt = Time(round(cell.learnt.minutes), wait)
                keep_time(kind, cell.complexity, row.operation, learnt, by=staff_of(request))
                said = _("%(operation)s now counts as %(minutes)s minutes.")
                messages.success(request, said % {"operation": OPERATIONS[row.operation], "minutes": learnt.minutes})
    return redirect("workshop:times", kind=kind.value)


def _context(kind: EntryKind, rows: list[Row], form: TimesForm) -> dict[str, Any]:
    times = [[row.cells[at].time for row in rows] for at, _skill in enumerate(Complexity)]
    sums = [sum(time.minutes for time in column if time) for column in times]
    shown = [
        {
            "name": OPERATIONS[row.operation],
            "operation": row.operation,
            "cells": [
                {"cell": cell, "field": form[minutes_name(row.operation, cell.complexity)]} for cell in row.cells
            ],
            "wait": form[wait_name(row.operation)],
        }
        for row in rows
    ]
    return {
        "kind": kind,
        "kinds": [(one.value, KINDS[one]) for one in EntryKind],
        "skills": [SKILLS[one] for one in Complexity],
        "rows": shown,
        "hours": [f"{minutes / 60:.1f}" for minutes in sums],
        "form": form,
    }
