"""Reception: scanning a box of pieces, one beep after the other."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from service_center.access.signed_in import staff_of
from service_center.bench.orders.queue_words import refusal
from service_center.bench.orders.reception import (
    Scanned,
    on_their_way,
    ready_to_go,
    received_since,
    scanned,
    since_this_morning,
)
from service_center.bench.orders.telling import move_on
from service_center.workshop.orders.rules.steps import CannotMove, Step
from service_center.workshop.words import STEPS


@require_http_methods(["GET", "HEAD", "POST"])
def reception(request: HttpRequest) -> HttpResponse:
    """Each code that is scanned takes its piece into the workshop at once; the box is what came today."""
    if request.method == "POST":
        for code in request.POST.get("codes", "").splitlines():
            if code.strip():
                _receive(request, scanned(code.strip()))
        return redirect("bench:reception")
    now = timezone.now()
    context = {
        "received": received_since(since_this_morning(now)),
        "on_their_way": on_their_way(),
        "ready": ready_to_go(),
    }
    return render(request, "bench/reception.html", context)


def _receive(request: HttpRequest, found: Scanned) -> None:
    order = found.order
    if order is None:
        messages.error(request, _not_expected(found))
        return
    if order.step != Step.LOGGED:
        said = _("%(number)s, %(serial)s: nothing to do, it stands at “%(step)s” already.")
        messages.info(
            request, said % {"number": order.number, "serial": order.piece.serial, "step": STEPS[Step(order.step)]}
        )
        return
    try:
        move_on(order, Step.RECEIVED, at=timezone.now(), on=timezone.localdate(), by=staff_of(request))
    except CannotMove as refused:
        messages.error(request, f"{order.number}, {order.piece.serial}: {refusal(refused)}")
    else:
        said = _("%(number)s, %(serial)s is received.")
        messages.success(request, said % {"number": order.number, "serial": order.piece.serial})


def _not_expected(found: Scanned) -> str:
    if found.piece is None:
        return _("“%(code)s” is no order and no serial in the book. Put the piece aside and ask the desk.") % {
            "code": found.code[:40]
        }
    return _("%(serial)s has no open order: nobody logged it. Put it aside and ask the desk.") % {
        "serial": found.piece.serial
    }
