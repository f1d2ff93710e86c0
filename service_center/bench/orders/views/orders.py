"""The orders: those in the house by their promise, and any that ever was."""

from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from service_center.access.rules import Role, may_open
from service_center.access.signed_in import staff_of
from service_center.book.models import Boutique
from service_center.pieces.wording import PLACES
from service_center.workshop.orders.models import WorkOrder
from service_center.workshop.orders.queries.listing import Chosen, counts_by_step, order_meant, orders_page
from service_center.workshop.orders.rules.lateness import days_late
from service_center.workshop.orders.rules.steps import Step
from service_center.workshop.words import KINDS, STEPS

MOST = 100


@require_safe
def orders(request: HttpRequest) -> HttpResponse:
    """By step, the late ones first; a whole number that is typed or scanned leads straight to its order.

    Three statements, however many orders there are or were.
    """
    staff, today, given = staff_of(request), timezone.localdate(), request.GET
    text = given.get("q", "").replace("\0", "").strip()[:MOST]
    one = order_meant(text, staff) if text else None
    if one:
        return redirect("bench:order", number=one.number)
    step = next((one for one in Step if one.value == given.get("step")), None)
    kind = given.get("kind", "") if given.get("kind") in KINDS else ""
    chosen = Chosen(step, given.get("boutique", "").replace("\0", "")[:MOST], kind, text)
    page = orders_page(staff, chosen, given.get("after", "")[:MOST])
    kept = given.copy()
    kept.pop("after", None)
    context = {
        "rows": [_row(order, today) for order in page.rows],
        "following": page.following,
        "kept": kept.urlencode(),
        "chosen": chosen,
        "steps": [
            {"count": one, "name": STEPS[one.step], "here": one.step is step} for one in counts_by_step(staff, today)
        ],
        "over": {"name": STEPS[Step.HANDED_BACK], "here": step is Step.HANDED_BACK},
        "kinds": KINDS.items(),
        "boutiques": [] if staff.role == Role.BOUTIQUE else Boutique.objects.order_by("name", "code"),
        "today": today,
        "opens_owners": may_open("owners:owner", staff.role),
    }
    return render(request, "bench/orders.html", context)


def _row(order: WorkOrder, today: date) -> dict[str, object]:
    late = days_late(Step(order.step), order.promised_on, order.ready_on, today)
    return {
        "order": order,
        "step": STEPS[Step(order.step)],
        "kind": KINDS[order.kind],  # type: ignore[index]  # a StrEnum is its own text
        "place": PLACES[order.piece.place],
        "late": late if order.closed_on is None else 0,
    }
