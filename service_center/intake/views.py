"""The counter: find a piece, take it in, and the receipts."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from service_center.access.models import Staff
from service_center.access.rules import Role
from service_center.book.models import Boutique
from service_center.book.rules import Winding
from service_center.guarantee import words
from service_center.guarantee.queries import decision_of
from service_center.guarantee.rules import CoveredBy, from_record
from service_center.intake import actions, papers, queries
from service_center.intake.forms import DropOffForm
from service_center.intake.models import DropOff
from service_center.intake.queries import AtCounter
from service_center.intake.rules import Stop, cautions_for
from service_center.intake.wording import ASKED, CAUTIONS
from service_center.intervals.queries import due_of
from service_center.intervals.rules import because, state_on
from service_center.papers.rules import PageSize
from service_center.pieces.wording import PLACES, SERVICE_KINDS, STATES


def _staff(request: HttpRequest) -> Staff:
    assert isinstance(request.user, Staff)  # the door let nobody else in
    return request.user


def _own_boutique(staff: Staff) -> Boutique | None:
    """Where boutique staff stand; the desk and the manager say where a piece was handed in."""
    return Boutique.objects.filter(code=staff.boutique).first() if staff.role == Role.BOUTIQUE else None


@require_safe
def find(request: HttpRequest) -> HttpResponse:
    """Scan or type: a serial or part of it, an owner's name or telephone, a receipt's number."""
    text = request.GET.get("q", "").strip()[:100]
    too_short = len(text) < 2
    found = queries.FoundAtCounter([], more=False, drop_off=None) if too_short else queries.find(text, _staff(request))
    if found.drop_off:
        return redirect("intake:taken_in", pk=found.drop_off.pk)
    context = {"sought": text, "too_short": too_short and bool(text), "found": found.pieces, "more": found.more}
    return render(request, "intake/find.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def drop_off(request: HttpRequest, pk: int) -> HttpResponse:
    """Take one piece in. A form sent twice leads to the same drop-off."""
    staff = _staff(request)
    at_counter = queries.piece_at_counter(staff, pk, serial=request.GET.get("serial", ""))
    if at_counter is None:
        raise Http404
    boutique = _own_boutique(staff)
    if request.method != "POST":
        if at_counter.stop:
            return _stopped(request, at_counter, at_counter.stop)
        return _form_page(request, at_counter, DropOffForm(piece=at_counter.piece, boutique=boutique))
    form = DropOffForm(request.POST, piece=at_counter.piece, boutique=boutique)
    if not form.is_valid():
        return _form_page(request, at_counter, form)
    deed = form.deed()
    now = timezone.now()
    try:
        taken = actions.take_in(
            at_counter.piece,
            **deed,
            by=staff,
            taken_on=queries.day_at(deed["boutique"], now),
            at=now,
            as_of=timezone.localdate(),
        )
    except actions.NotTakenInError as refused:
        return _stopped(request, at_counter, refused.stop, status=409)
    except actions.FormUsedError:
        form.add_error(None, _("This form was used for another piece. Please open the piece anew from the search."))
        return _form_page(request, at_counter, form)
    return redirect("intake:taken_in", pk=taken.pk)


def _form_page(request: HttpRequest, at_counter: AtCounter, form: DropOffForm) -> HttpResponse:
    """What is due, who pays, and the form; on the day it is where the piece came in."""
    piece, today = at_counter.piece, timezone.localdate()
    owner = piece.owner if at_counter.shows_owner else None
    boutique = form.staff_boutique or piece.boutique
    country = (piece.owner.country if piece.owner else "") or (boutique.country if boutique else "")
    day = queries.day_at(boutique, timezone.now()) if boutique else today
    decision = decision_of(piece, day, country=country)
    calibre = piece.model.calibre if piece.model else None
    winding = Winding(calibre.winding) if calibre and calibre.winding else None
    context = {
        "piece": piece,
        "owner": owner,
        "shows_owner": at_counter.shows_owner,
        "form": form,
        "due": [
            {
                "name": SERVICE_KINDS[due.kind],
                "due": due,
                "state": state_on(today, due).value,
                "state_name": STATES[state_on(today, due)],
                "because": because(due, today).sentence,
            }
            for due in due_of(piece, today)
        ],
        "guarantee": _guarantee(decision),
        "cautions": [CAUTIONS[one] for one in cautions_for(made_on=piece.made_on, winding=winding)],
    }
    return render(request, "intake/drop_off.html", context, status=422 if form.errors else 200)


def _guarantee(decision: Any) -> dict[str, Any]:
    return {
        "name": words.name_of(decision.covered_by),
        "covered": decision.covered_by is not CoveredBy.NONE,
        "cover": decision.cover,
        "because": words.sentence(decision),
        "notes": words.notes(decision),
        "statutory": words.statutory_note(),
    }


def _stopped(request: HttpRequest, at_counter: AtCounter, stop: Stop, *, status: int = 200) -> HttpResponse:
    """Why the piece is not taken in, and what to do; nothing of its owner."""
    drop_off = queries.open_drop_off(at_counter.piece, _staff(request)) if stop is Stop.ALREADY_IN else None
    context = {
        "piece": at_counter.piece,
        "stop": stop.value,
        "place": PLACES[at_counter.piece.place],
        "drop_off": drop_off,
    }
    return render(request, "intake/stopped.html", context, status=status)


@require_safe
def drop_offs(request: HttpRequest) -> HttpResponse:
    """What was taken in, newest first: a boutique's own, or everybody's for the desk."""
    staff = _staff(request)
    given = request.GET
    before = given.get("before", "")
    page = queries.drop_offs_page(
        staff,
        boutique=given.get("boutique", ""),
        text=given.get("q", "").strip()[:100],
        here=given.get("here") == "yes",
        before=int(before) if before.isascii() and before.isdigit() and len(before) < 16 else None,
    )
    kept = given.copy()
    kept.pop("before", None)
    context = {
        "rows": [{"drop_off": row, "asked": [ASKED[one] for one in row.asked]} for row in page.rows],
        "older": page.older,
        "kept": kept.urlencode(),
        "given": {"q": given.get("q", ""), "boutique": given.get("boutique", ""), "here": given.get("here", "")},
        "boutiques": [] if staff.role == Role.BOUTIQUE else Boutique.objects.order_by("name", "code"),
    }
    return render(request, "intake/drop_offs.html", context)


def _drop_off(request: HttpRequest, pk: int) -> DropOff:
    rows = queries.drop_offs_visible_to(_staff(request)).select_related("piece__model__calibre", "sheet")
    return get_object_or_404(rows, pk=pk)


@require_safe
def taken_in(request: HttpRequest, pk: int) -> HttpResponse:
    """Done: the number, and the receipt to print."""
    one = _drop_off(request, pk)
    context = {
        "drop_off": one,
        "asked": [ASKED[asked] for asked in one.asked],
        "guarantee": _guarantee(from_record(one.guarantee)),
        "readings": papers.reading_rows(one),
        "sizes": [(size.value, size is papers.size_for(one)) for size in papers.RECEIPT_SIZES],
    }
    return render(request, "intake/taken_in.html", context)


@require_safe
def receipt(request: HttpRequest, pk: int) -> HttpResponse:
    """The receipt as PDF; `?size=letter` or `A4` where the printer holds another paper."""
    one = _drop_off(request, pk)
    asked = request.GET.get("size", "")
    size = PageSize(asked) if asked in papers.RECEIPT_SIZES else papers.size_for(one)
    return _pdf(papers.receipt(one, size=size), one.number)


@require_safe
def label(request: HttpRequest, pk: int) -> HttpResponse:
    """The label for the piece as PDF."""
    one = _drop_off(request, pk)
    return _pdf(papers.label(one), f"{one.number}-label")


def _pdf(content: bytes, name: str) -> HttpResponse:
    headers = {"Content-Disposition": f'inline; filename="{name}.pdf"'}
    return HttpResponse(content, content_type="application/pdf", headers=headers)
