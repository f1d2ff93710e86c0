"""The desk's page of one owner: particulars, grounds for letters, what they asked and what was changed."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from service_center.access.models import Staff
from service_center.access.rules import may_open
from service_center.access.signed_in import staff_of
from service_center.book.countries import name_of_country
from service_center.book.models import Owner
from service_center.book.rules import Place, Status
from service_center.book.wording import FALLBACK, name_of_language
from service_center.letters import actions
from service_center.letters.desk.words import GROUNDS
from service_center.letters.queries.bounces import stop_of
from service_center.letters.queries.grounds import grounds_of
from service_center.letters.rules.words import Ground
from service_center.owner_pages import erasure
from service_center.owner_pages.actions import (
    CannotEraseNowError,
    ChangedMeanwhileError,
    OwnerErasedError,
    correct_by_desk,
    erase,
)
from service_center.owner_pages.desk import queries
from service_center.owner_pages.desk.forms import FAULTS_OF_GROUNDS, EraseForm, GroundForm, ParticularsForm
from service_center.owner_pages.desk.words import OBSTACLES, letter_row, request_row, told
from service_center.owner_pages.queries import postal_address_of, requests_of
from service_center.pieces.order_answer import answer
from service_center.pieces.wording import PLACES, STATUSES
from service_center.workshop.orders.queries.in_short import in_short


@require_safe
def owner_page(request: HttpRequest, pk: int) -> HttpResponse:
    """One owner."""
    owner = get_object_or_404(Owner, pk=pk)
    form = GroundForm(initial={"on": timezone.localdate().isoformat()})
    return render(request, "owners/owner.html", _context(owner, form, staff_of(request)))


@require_POST
def set_ground(request: HttpRequest, pk: int) -> HttpResponse:
    """Write down a ground for letters, or that it was withdrawn; with errors, the owner's page again."""
    owner, form = get_object_or_404(Owner, pk=pk, erased_on=None), GroundForm(request.POST)
    if form.is_valid():
        said, today = form.cleaned_data, timezone.localdate()
        ground = Ground(said["ground"])
        try:
            actions.set_ground(owner, ground, on=said["on"], wording=said["wording"], by=staff_of(request), as_of=today)
        except actions.OwnerErased:
            return _erased_meanwhile(request, owner)
        except actions.ImpossibleGround as fault:
            field = str(fault).split(":", maxsplit=1)[0]
            form.add_error(field, FAULTS_OF_GROUNDS[str(fault)])
        else:
            if ground is Ground.WITHDRAWN:
                messages.success(request, _("Written down. No letter about paid service goes to this owner."))
            else:
                messages.success(request, _("Written down. Letters about their watches go to this owner."))
            return redirect("owners:owner", pk=owner.pk)
    return render(request, "owners/owner.html", _context(owner, form, staff_of(request)), status=422)


@require_http_methods(["GET", "HEAD", "POST"])
def correct_particulars(request: HttpRequest, pk: int) -> HttpResponse:
    """Write down what an owner told the desk: another address, number, language, or how their name is spelled."""
    owner = get_object_or_404(Owner, pk=pk, erased_on=None)
    form = ParticularsForm(
        request.POST or None,
        owner=owner,
        address=postal_address_of(owner),
        language=translation.get_language() or FALLBACK,
    )
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            written = correct_by_desk(
                owner,
                form.details(),
                name=said["name"],
                typed_over=form.typed_over(),
                reason=said["reason"],
                by=staff_of(request),
                now=timezone.now(),
            )
        except OwnerErasedError:
            return _erased_meanwhile(request, owner)
        except ChangedMeanwhileError as error:
            form.changed_meanwhile(error.stands)
        else:
            if written:
                messages.success(request, _("Written down. Letters and papers follow it from now on."))
            else:
                messages.info(request, _("Nothing was changed: the book says the same already."))
            return redirect("owners:owner", pk=owner.pk)
    context = {"owner": owner, "form": form, "stopped": stop_of(owner.email)}
    return render(request, "owners/correct.html", context, status=422 if form.errors else 200)


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
        "obstacles": [OBSTACLES[one] for one in erasure.obstacles(owner, now)],
        "kept": erasure.kept_of(owner, timezone.localdate(now)),
        "years": settings.RECEIPT_YEARS,
    }
    return render(request, "owners/erase.html", context, status=422 if form.errors else 200)


def _erased_meanwhile(request: HttpRequest, owner: Owner) -> HttpResponse:
    messages.warning(request, _("Nothing was changed: this owner's data were erased meanwhile."))
    return redirect("owners:owner", pk=owner.pk)


def _context(owner: Owner, form: GroundForm, staff: Staff) -> dict[str, Any]:
    letters = queries.letters_of(owner)
    return {
        "owner": owner,
        "erases": may_open("owners:erase", staff.role),
        "watches": _watches(owner, staff),
        "letters": [letter_row(one) for one in letters[: queries.LETTERS]],
        "more_letters": len(letters) > queries.LETTERS,
        "address": postal_address_of(owner),
        "country": name_of_country(owner.country),
        "spoken": name_of_language(owner.language),
        "stopped": stop_of(owner.email),
        "grounds": [{"one": one, "name": GROUNDS[Ground(one.ground)]} for one in grounds_of(owner)],
        "form": form,
        "requests": [request_row(one) for one in requests_of(owner)],
        "trail": [told(one) for one in queries.trail_of(owner)],
    }


def _watches(owner: Owner, staff: Staff) -> list[dict[str, Any]]:
    """Each piece of theirs: where it is, and what its order in the house says, as they ask for it at the telephone."""
    pieces = queries.watches_of(owner)
    here = in_short([one.pk for one in pieces if one.place != Place.OWNER], staff, timezone.localdate())
    return [
        {
            "piece": one,
            "place": PLACES[one.place],
            "status": STATUSES.get(one.status, ""),
            "gone": one.status in {Status.LOST, Status.STOLEN},
            "retired": one.status == Status.RETIRED,
            "order": answer(here.get(one.pk)),
        }
        for one in pieces
    ]
