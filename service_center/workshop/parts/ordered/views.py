"""What is on order: the list that deliveries are written on, and one line with all that was heard of it."""

from datetime import date
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from service_center.access.rules import may_open
from service_center.access.signed_in import staff_of
from service_center.workshop.parts.ordered import actions
from service_center.workshop.parts.ordered.forms import ReceiveForm, TakeBackForm, WordForm
from service_center.workshop.parts.ordered.models import OnOrder, OrderedPart
from service_center.workshop.parts.ordered.queries import as_it_holds, came_of, on_order


@require_http_methods(["GET", "HEAD", "POST"])
def ordered_parts(request: HttpRequest) -> HttpResponse:
    """Every line of which something is still to come; what came is written at one tap. One statement."""
    form = ReceiveForm(request.POST) if request.method == "POST" else None
    if form and form.is_valid():
        _receive(request, form)
        return redirect("workshop:ordered_parts")
    as_of = timezone.localdate()
    rows = [_row(one, as_of, form) for one in on_order()]
    context = {
        "rows": rows,
        "late": sum(1 for row in rows if row["late"]),
        "refused": form.errors if form else None,
        "may_change": may_open("workshop:ordered_line", staff_of(request).role),
        "may_order": may_open("planning:write_order", staff_of(request).role),
    }
    return render(request, "workshop/ordered_parts.html", context, status=422 if form else 200)


def _row(one: OnOrder, as_of: date, form: ReceiveForm | None) -> dict[str, Any]:
    """`typed`: what stood in the row's field when it was refused, or else what is still to come."""
    mine = form is not None and form.data.get("line") == str(one.line_id)
    return {
        "one": one,
        "late": one.expected_on < as_of,
        "key": uuid4(),
        "typed": form.data.get("quantity", "") if form and mine else one.quantity,
        "errors": form.errors.get("quantity") if form and mine else None,
    }


def _receive(request: HttpRequest, form: ReceiveForm) -> None:
    data = form.cleaned_data
    line, quantity = data["line"], data["quantity"]
    actions.receive(line, quantity, at=timezone.now(), by=staff_of(request), form_key=data["form_key"])
    messages.success(
        request, _("%(n)d of %(part)s came and lie on the shelf.") % {"n": quantity, "part": line.part.name}
    )  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
def ordered_line(request: HttpRequest, pk: int) -> HttpResponse:
    """One line: what was ordered, what came, what was heard; and putting it right."""
    line = get_object_or_404(OrderedPart.objects.select_related("order__by", "part"), pk=pk)
    quantity, expected_on = as_it_holds(line)
    takes_back = request.method == "POST" and "take_back" in request.POST
    back = TakeBackForm(request.POST if takes_back else None)
    told = request.POST if request.method == "POST" and not takes_back else None
    word = WordForm(told, line=line, quantity=quantity, expected_on=expected_on)
    if takes_back and back.is_valid() and _taken_back(request, line, back):
        return redirect("workshop:ordered_line", pk=line.pk)
    if told is not None and word.is_valid():
        actions.hear_of(line, **_heard(word), at=timezone.now(), by=staff_of(request))
        messages.success(request, _("It is written down."))
        return redirect("workshop:ordered_line", pk=line.pk)
    came = came_of(line)
    context = {
        "line": line,
        "quantity": quantity,
        "expected_on": expected_on,
        "came": came,
        "left": max(0, quantity - came),
        "late": came < quantity and expected_on < timezone.localdate(),
        "words": line.words.select_related("by").order_by("-pk"),
        "deliveries": line.deliveries.select_related("move__by").order_by("-pk"),
        "word": word,
        "back": back,
    }
    return render(request, "workshop/ordered_line.html", context, status=422 if word.errors or back.errors else 200)


def _heard(form: WordForm) -> dict[str, Any]:
    return {name: form.cleaned_data[name] for name in ("form_key", "quantity", "expected_on", "why")}


def _taken_back(request: HttpRequest, line: OrderedPart, form: TakeBackForm) -> bool:
    data = form.cleaned_data
    try:
        actions.receive(line, -data["take_back"], at=timezone.now(), by=staff_of(request), form_key=data["form_key"])
    except actions.NotDeliveredError as refused:
        form.add_error("take_back", _("Only %(n)s came of this line.") % {"n": refused})
        return False
    messages.success(request, _("It is taken off the shelf again, and on order."))
    return True
