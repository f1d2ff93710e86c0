"""One order: how it stands, and what is done with it from there."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from service_center.access.rules import COUNTER, DESK, WORK
from service_center.access.signed_in import staff_of
from service_center.bench.orders.deeds import DEEDS, Doing, Shown, deeds_for, do, may_do
from service_center.bench.orders.estimate_forms import EstimateSheet
from service_center.bench.orders.estimate_paper import paper_of
from service_center.bench.orders.order_words import REFUSED, why_refused
from service_center.bench.orders.page import context_of
from service_center.bench.orders.telling import Asked, ask_owner
from service_center.book.wording import FALLBACK, language_of, name_of_language
from service_center.letters.actions import is_reached
from service_center.workshop.orders.actions import NotReady
from service_center.workshop.orders.models import OrderEstimate, WorkOrder
from service_center.workshop.orders.queries.control import standing_of
from service_center.workshop.orders.queries.listing import orders_visible_to
from service_center.workshop.orders.rules.numbers import number_meant
from service_center.workshop.orders.rules.steps import CannotMove, Step, check_move


@require_http_methods(["GET", "HEAD", "POST"])
def order(request: HttpRequest, number: str) -> HttpResponse:
    """The page of an order; a form on it does one deed, and a deed that is refused says why beside it."""
    found = _order(request, number)
    if found.number != number:
        return redirect("bench:order", number=found.number)
    if request.method != "POST":
        return _page(request, found)
    deed = request.POST.get("deed", "")
    if deed not in DEEDS:
        messages.error(request, _("That form is not known here. Nothing was done."))
        return redirect("bench:order", number=found.number)
    if not may_do(deed, found, staff_of(request)):
        raise PermissionDenied
    return _done(request, found, deed)


def _done(request: HttpRequest, found: WorkOrder, deed: str) -> HttpResponse:
    staff, now, today = staff_of(request), timezone.now(), timezone.localdate()
    shown = _shown(context_of(found, today, now))
    form = deeds_for(found, shown, staff, sent=request.POST, deed=deed).get(deed)
    if form is None:
        messages.error(request, _("The order has gone on since you saw it, and that is not done now. Look again."))
        return redirect("bench:order", number=found.number)
    if not form.is_valid():
        return _page(request, found, deed, status=422)
    try:
        said = do(found, form, Doing(staff, now, today))
    except REFUSED as refused:
        return _page(request, found, deed, refused=why_refused(refused), status=409)
    except ValueError as wrong:  # a bound of the action that no field of the form knows
        return _page(request, found, deed, refused=str(wrong), status=422)
    messages.success(request, said)
    # Up to what was done: the form's own place on the page was for what is wrong with it.
    return redirect(reverse("bench:order", args=[found.number]) + "#main")


def _shown(context: dict[str, object]) -> Shown:
    return Shown(**{name: context[name] for name in Shown.__dataclass_fields__})  # type: ignore[arg-type]


def _page(
    request: HttpRequest, found: WorkOrder, deed: str = "", *, refused: str = "", status: int = 200
) -> HttpResponse:
    staff, today = staff_of(request), timezone.localdate()
    found.refresh_from_db(fields=["step", "kind", "asks_owner", "closed_on"])
    context = context_of(found, today, timezone.now())
    sent = request.POST if deed else None
    owner = found.owner
    context |= {
        "deeds": deeds_for(found, _shown(context), staff, sent=sent, deed=deed),
        "deed": deed,
        "refused": refused,
        "may_estimate": staff.role in WORK and _may_be_estimated(found),
        "at_counter": staff.role in COUNTER,
        "decides": staff.role in DESK,
        "works": staff.role in WORK,
        "reached": bool(owner and is_reached(owner)),
        "signs_for_all": found.agreed_total is not None,
    }
    return render(request, "bench/order.html", context, status=status)


def _may_be_estimated(found: WorkOrder) -> bool:
    try:
        check_move(standing_of(found), Step.ESTIMATED)
    except CannotMove:
        return False
    return True


@require_http_methods(["GET", "HEAD", "POST"])
def estimate(request: HttpRequest, number: str) -> HttpResponse:
    """Write what the work will cost; the owner is asked by it."""
    found, today = _order(request, number), timezone.localdate()
    sheet = EstimateSheet(request.POST if request.method == "POST" else None, order=found, as_of=today)
    refused = ""
    if request.method == "POST" and (lines := sheet.checked()) is not None:
        head = sheet.head.cleaned_data
        asked = Asked(lines, head["currency"], head["valid_until"], head["note"])
        try:
            ask_owner(found, asked, on=today, now=timezone.now(), by=staff_of(request), form_key=head["form_key"])
        except (CannotMove, NotReady) as no:
            refused = why_refused(no)
        else:
            _say_who_is_told(request, found)
            return redirect("bench:order", number=found.number)
    elif request.method != "POST" and not _may_be_estimated(found):
        messages.error(
            request, _("An estimate is written once somebody has looked at the piece, and before the bench.")
        )
        return redirect("bench:order", number=found.number)
    context = {
        "order": found,
        "piece": found.piece,
        "sheet": sheet,
        "refused": refused,
        "in_language": name_of_language(language_of(found.owner) if found.owner else FALLBACK),
    }
    status = 409 if refused else 422 if sheet.has_errors else 200
    return render(request, "bench/order_estimate.html", context, status=status)


def _say_who_is_told(request: HttpRequest, found: WorkOrder) -> None:
    if found.owner and is_reached(found.owner):
        messages.success(request, _("The estimate is written, and a letter takes it to the owner."))
    else:
        messages.warning(request, _("The estimate is written. No letter reaches the owner: telephone, or print it."))


@require_safe
def estimate_paper(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """An estimate as PDF, in the owner's language."""
    rows = OrderEstimate.objects.select_related("order__piece__model", "order__piece__owner", "order__boutique")
    found = get_object_or_404(rows, order=_order(request, number), pk=pk)
    headers = {"Content-Disposition": f'inline; filename="{found.order.number}-estimate.pdf"'}
    return HttpResponse(paper_of(found), content_type="application/pdf", headers=headers)


def _order(request: HttpRequest, number: str) -> WorkOrder:
    """An order that this member of staff may see, by its number as people write it, or 404."""
    rows = orders_visible_to(staff_of(request)).select_related(
        "piece__model__calibre", "piece__owner", "owner", "boutique", "bench", "sheet_before", "opened_by"
    )
    return get_object_or_404(rows, number=number_meant(number) or number)
