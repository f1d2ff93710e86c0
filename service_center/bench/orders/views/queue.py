"""The bench: one's own queue, one tap for what is done."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from service_center.access.signed_in import staff_of
from service_center.bench.orders.queue import in_turn, queue_of
from service_center.bench.orders.queue_said import said
from service_center.bench.orders.queue_words import not_ready, refusal
from service_center.bench.orders.telling import move_on
from service_center.planning.week_plan.queries import queue_of as planned_for
from service_center.workshop.calendars.queries import skills_of
from service_center.workshop.orders.actions import (
    AlreadyFinished,
    NotOnTheBench,
    NotReady,
    finish_operation,
    take_back_operation,
    take_to_bench,
)
from service_center.workshop.orders.models import OrderOperation, WorkOrder
from service_center.workshop.orders.rules.operations import Operation
from service_center.workshop.orders.rules.steps import CannotMove, Step
from service_center.workshop.words import OPERATIONS, STEPS

# The moves that a tap at the bench may ask for; the others are the order page's.
MOVES = {"control": Step.UNDER_CONTROL, "ready": Step.READY}


@require_safe
def queue(request: HttpRequest) -> HttpResponse:
    """What lies before the watchmaker who is signed in, as the week's plan has it. Nine statements."""
    staff, today = staff_of(request), timezone.localdate()
    planned = in_turn((row.number, row.day) for row in planned_for(staff.pk, today) if not row.done)
    found = queue_of(staff, skills=skills_of(staff.pk, today), now=timezone.now(), planned=planned)
    return render(request, "bench/queue.html", {"queue": said(found)})


@require_POST
def finish(request: HttpRequest, number: str) -> HttpResponse:
    """One operation is done, in so many minutes."""
    order = _order(number)
    try:
        operation, key = Operation(request.POST.get("operation", "")), UUID(request.POST.get("form_key", ""))
        minutes = int(request.POST.get("minutes") or "")
    except ValueError:
        messages.error(request, _("Minutes: a whole number, 1 to 1440. Nothing was kept."))
        return _at(order)
    try:
        finish_operation(order, operation, minutes=minutes, at=timezone.now(), by=staff_of(request), form_key=key)
    except NotOnTheBench:
        messages.error(request, _("%(number)s has gone on since; nothing was kept.") % {"number": order.number})
    except AlreadyFinished:
        messages.info(request, _("That was finished before; the minutes stay as they were."))
    except ValueError:
        messages.error(request, _("Minutes: a whole number, 1 to 1440. Nothing was kept."))
    except OrderOperation.DoesNotExist:
        messages.error(request, _("%(number)s does not have that operation.") % {"number": order.number})
    return _at(order)


@require_POST
def take_back(request: HttpRequest, number: str) -> HttpResponse:
    """A wrong tap: what was called finished is to do again."""
    order = _order(number)
    try:
        operation = Operation(request.POST.get("operation", ""))
        take_back_operation(order, operation, at=timezone.now(), by=staff_of(request))
    except NotOnTheBench:
        messages.error(request, _("%(number)s has gone on since; nothing was kept.") % {"number": order.number})
    except (ValueError, OrderOperation.DoesNotExist):
        messages.error(request, _("%(number)s does not have that operation.") % {"number": order.number})
    else:
        said = _("%(number)s: %(operation)s is to do again, and its minutes count no more.")
        messages.success(request, said % {"number": order.number, "operation": str(OPERATIONS[operation])})
    return _at(order)


@require_POST
def take(request: HttpRequest, number: str) -> HttpResponse:
    """Take an order to one's own bench."""
    order = _order(number)
    try:
        if order.step != Step.ON_THE_BENCH:
            move_on(order, Step.ON_THE_BENCH, at=timezone.now(), on=timezone.localdate(), by=staff_of(request))
        take_to_bench(order, at=timezone.now(), on=timezone.localdate(), by=staff_of(request))
    except CannotMove as refused:
        messages.error(request, f"{order.number}: {refusal(refused)}")
    else:
        messages.success(request, _("%(number)s is on your bench.") % {"number": order.number})
    return _at(order)


@require_POST
def move(request: HttpRequest, number: str) -> HttpResponse:
    """From the bench to the control, or from the control to ready."""
    order = _order(number)
    step = MOVES.get(request.POST.get("to", ""))
    if step is None:
        messages.error(request, _("No way leads there from where the order stands now. Look at it again."))
        return redirect("bench:queue")
    try:
        move_on(order, step, at=timezone.now(), on=timezone.localdate(), by=staff_of(request))
    except CannotMove as refused:
        messages.error(request, f"{order.number}: {refusal(refused)}")
    except NotReady as refused:
        messages.error(request, f"{order.number}: {not_ready(refused)}")
    else:
        messages.success(request, f"{order.number}: {STEPS[step]}")
    return _at(order)


def _at(order: WorkOrder) -> HttpResponse:
    """The queue, at the order that was tapped: the next tap is under the same finger."""
    return redirect(f"{reverse('bench:queue')}#{order.number}")


def _order(number: str) -> WorkOrder:
    return get_object_or_404(WorkOrder.objects.select_related("piece"), number=number)
