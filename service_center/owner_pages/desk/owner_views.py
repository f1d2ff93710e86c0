"""The desk's page of one owner: particulars, grounds for letters, what they asked and what was changed."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from service_center.access.rules import may_open
from service_center.access.signed_in import staff_of
from service_center.book.models import Owner, Piece
from service_center.letters import actions
from service_center.letters.desk.words import GROUNDS
from service_center.letters.queries.bounces import stop_of
from service_center.letters.queries.grounds import grounds_of
from service_center.letters.rules.words import Ground
from service_center.owner_pages import erasure
from service_center.owner_pages.actions import CannotEraseNowError, erase
from service_center.owner_pages.desk import queries
from service_center.owner_pages.desk.forms import FAULTS_OF_GROUNDS, EraseForm, GroundForm
from service_center.owner_pages.desk.words import OBSTACLES, request_row, told
from service_center.owner_pages.queries import postal_address_of, requests_of


@require_safe
def owner_page(request: HttpRequest, pk: int) -> HttpResponse:
    """One owner."""
    owner = get_object_or_404(Owner, pk=pk)
    form = GroundForm(initial={"on": timezone.localdate().isoformat()})
    return render(
        request,
        "owners/owner.html",
        _context(owner, form) | {"erases": may_open("owners:erase", staff_of(request).role)},
    )


@require_POST
def set_ground(request: HttpRequest, pk: int) -> HttpResponse:
    """Write down a ground for letters, or that it was withdrawn; with errors, the owner's page again."""
    owner, form = get_object_or_404(Owner, pk=pk, erased_on=None), GroundForm(request.POST)
    if form.is_valid():
        said, today = form.cleaned_data, timezone.localdate()
        ground = Ground(said["ground"])
        try:
            actions.set_ground(owner, ground, on=said["on"], wording=said["wording"], by=staff_of(request), as_of=today)
        except actions.ImpossibleGround as fault:
            field = str(fault).split(":", maxsplit=1)[0]
            form.add_error(field, FAULTS_OF_GROUNDS[str(fault)])
        else:
            if ground is Ground.WITHDRAWN:
                messages.success(request, _("Written down. No letter about paid service goes to this owner."))
            else:
                messages.success(request, _("Written down. Letters about their watches go to this owner."))
            return redirect("owners:owner", pk=owner.pk)
    return render(request, "owners/owner.html", _context(owner, form), status=422)


@require_http_methods(["GET", "HEAD", "POST"])
def erase_owner(request: HttpRequest, pk: int) -> HttpResponse:
    """What erasing this owner would take away, what stays and why; and the deed itself."""
    owner, now = get_object_or_404(Owner, pk=pk), timezone.now()
    form = EraseForm(request.POST or None, code=owner.code)
    if request.method == "POST" and form.is_valid():
        try:
            erase(owner, on=timezone.localdate(now), by=staff_of(request), now=now)
        except CannotEraseNowError as error:
            for one in error.because:
                form.add_error(None, str(OBSTACLES[one]))
        else:
            messages.success(request, _("Erased. The watches keep their history; nobody's name stands beside it."))
            return redirect("owners:owner", pk=owner.pk)
    context = {
        "owner": owner,
        "form": form,
        "obstacles": [OBSTACLES[one] for one in erasure.obstacles(owner)],
        "kept": erasure.kept_of(owner, timezone.localdate(now)),
        "years": settings.RECEIPT_YEARS,
    }
    return render(request, "owners/erase.html", context, status=422 if form.errors else 200)


def _context(owner: Owner, form: GroundForm) -> dict[str, Any]:
    return {
        "owner": owner,
        "pieces": Piece.objects.filter(owner=owner).order_by("serial")[: queries.OF_ONE],
        "address": postal_address_of(owner),
        "stopped": stop_of(owner.email),
        "grounds": [{"one": one, "name": GROUNDS[Ground(one.ground)]} for one in grounds_of(owner)],
        "form": form,
        "requests": [request_row(one) for one in requests_of(owner)],
        "trail": [told(one) for one in queries.trail_of(owner)],
    }
