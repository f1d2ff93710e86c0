"""The counter: find a piece, start to take it in, and what was taken in."""

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from service_center.access.models import Staff
from service_center.access.rules import Role
from service_center.access.signed_in import staff_of
from service_center.book.models import Boutique, Piece
from service_center.guarantee.queries import decision_of
from service_center.guarantee.rules import from_record
from service_center.intake import papers, queries, searches
from service_center.intake.actions import NotTakenInError
from service_center.intake.drafts.actions import begin
from service_center.intake.drafts.queries import drafts_visible_to, open_drafts
from service_center.intake.mailing import goes_again, mail_receipt_of, receipt_letter_of
from service_center.intake.mailing_words import RECEIPT_MEANING
from service_center.intake.models import DropOff
from service_center.intake.pages import guarantee_of, owed, stopped
from service_center.intake.photographs.views import as_picture
from service_center.intake.rules import Condition, Estimate
from service_center.intake.signing.statement import condition_lines, dry_line, estimate_lines
from service_center.intake.wording import ASKED
from service_center.letters.actions import is_reached
from service_center.letters.desk.words import STATES
from service_center.letters.models import Letter
from service_center.letters.rules.words import LetterState
from service_center.papers.rules import PageSize


@require_safe
def find(request: HttpRequest) -> HttpResponse:
    """Scan or type: a serial or part of it, an owner's name or telephone, a receipt's number.

    Before anything is typed: who comes today, and what was started and not finished.
    """
    staff, now = staff_of(request), timezone.now()
    text = request.GET.get("q", "").strip()[:100]
    context: dict[str, Any] = {"sought": text, "too_short": len(text) == 1}
    if text and not searches.one_more(staff, now):
        return render(request, "intake/find.html", {**context, "too_many": True}, status=429)
    booked = queries.booked_today(staff, now)
    if len(text) < 2:
        return render(request, "intake/find.html", {**context, "booked": booked, "drafts": open_drafts(staff)})
    found = queries.find(text, staff)
    if found.drop_off:
        return redirect("intake:taken_in", pk=found.drop_off.pk)
    searches.note_found_elsewhere(staff, [one.piece.serial for one in found.pieces if not one.shows_owner])
    coming = {one.piece.pk: one.visit for one in booked}
    rows = [{"one": one, "visit": coming.get(one.piece.pk)} for one in found.pieces]
    context["found"] = sorted(rows, key=lambda row: row["visit"] is None)
    return render(request, "intake/find.html", {**context, "more": found.more})


@require_http_methods(["GET", "HEAD", "POST"])
def drop_off(request: HttpRequest, pk: int) -> HttpResponse:
    """One piece at the counter. Pressed once or twice, one drop-off of it begins, and is gone on with."""
    staff, now = staff_of(request), timezone.now()
    serial = request.GET.get("serial", "")
    if serial and not searches.one_more(staff, now):
        return render(request, "intake/find.html", {"sought": serial[:100], "too_many": True}, status=429)
    at_counter = queries.piece_at_counter(staff, pk, serial=serial)
    if at_counter is None:
        raise Http404
    piece = at_counter.piece
    if at_counter.stop:
        return stopped(request, piece, at_counter.stop, status=409 if request.method == "POST" else 200)
    started = drafts_visible_to(staff).filter(piece=piece, ended_at=None).order_by("-kept_at").first()
    if started:
        return redirect("intake:started", pk=started.pk)
    boutique = _handed_in_at(staff, piece)
    if request.method == "POST" and boutique:
        try:
            return redirect("intake:started", pk=begin(piece, boutique, by=staff, at=now).pk)
        except NotTakenInError as refused:
            return stopped(request, piece, refused.stop, status=409)
    if boutique is None:
        messages.error(request, _("The book holds no boutique yet: a piece is taken in at one."))
    return _look_at(request, piece, boutique, shows_owner=at_counter.shows_owner)


def _handed_in_at(staff: Staff, piece: Piece) -> Boutique | None:
    """Where staff stand; for the desk, to begin with, where the piece was sold, or the first of all."""
    if staff.role == Role.BOUTIQUE:
        return queries.boutique_of(staff)
    return piece.boutique or Boutique.objects.order_by("name", "code").first()


def _look_at(request: HttpRequest, piece: Piece, boutique: Boutique | None, *, shows_owner: bool) -> HttpResponse:
    country = (piece.owner.country if piece.owner else "") or (boutique.country if boutique else "")
    day = queries.day_at(boutique, timezone.now()) if boutique else timezone.localdate()
    context = {
        "piece": piece,
        "shows_owner": shows_owner,
        "due": owed(piece, timezone.localdate()),
        "guarantee": guarantee_of(decision_of(piece, day, country=country)),
    }
    return render(request, "intake/drop_off.html", context)


@require_safe
def drop_offs(request: HttpRequest) -> HttpResponse:
    """The old address of what was taken in: each drop-off has an order of its number, and stands in the one list."""
    given, kept = request.GET, {}
    for name in ("q", "boutique"):
        if given.get(name):
            kept[name] = given[name]
    return redirect(reverse("bench:orders") + (f"?{urlencode(kept)}" if kept else ""))


def _drop_off(request: HttpRequest, pk: int) -> DropOff:
    rows = queries.drop_offs_visible_to(staff_of(request)).select_related(
        "piece__model__calibre", "sheet", "draft", "signature"
    )
    return get_object_or_404(rows, pk=pk)


@require_safe
def taken_in(request: HttpRequest, pk: int) -> HttpResponse:
    """Done: the number, the receipt to print, and all that was noted."""
    one = _drop_off(request, pk)
    context = {
        "drop_off": one,
        "asked": [ASKED[asked] for asked in one.asked],
        "guarantee": guarantee_of(from_record(one.guarantee)),
        "condition": condition_lines(Condition.from_record(one.condition)),
        "declared": papers.declared_of(one),
        "estimate": estimate_lines(Estimate.from_record(one.estimate) if one.estimate else None),
        "photographs": papers.photographs_of(one),
        "signature": papers.signature_of(one),
        "readings": papers.reading_rows(one),
        "dry": dry_line(papers.dry_results(one)),
        "mail": _mail_of(one),
        "sizes": [(size.value, size is papers.size_for(one)) for size in papers.RECEIPT_SIZES],
    }
    return render(request, "intake/taken_in.html", context)


@dataclass(frozen=True, slots=True)
class Mailing:
    """Where the receipt by mail stands. `letter`: the latest letter, once written, and where it went or goes (`went_to`).

    `to`: where one can go now, empty where none is to be asked for or none would arrive.
    """

    letter: Letter | None
    to: str
    went_to: str = ""
    state: str | Promise = ""
    meaning: str | Promise = ""


def _mail_of(one: DropOff) -> Mailing:
    letter = receipt_letter_of(one)
    if letter is None:
        return Mailing(None, one.owner.email if one.owner and is_reached(one.owner) else "")
    state = LetterState(letter.state)
    to = letter.owner.email if goes_again(one, letter) else ""
    return Mailing(letter, to, letter.email or letter.owner.email, STATES[state], RECEIPT_MEANING[state])


@require_POST
def mail_receipt(request: HttpRequest, pk: int) -> HttpResponse:
    """The receipt to its owner by mail; pressed twice, it goes once. Where that failed, it may be pressed again."""
    one = _drop_off(request, pk)
    if mail_receipt_of(one, by=staff_of(request), now=timezone.now()) is None:
        messages.error(request, _("No letter reaches this owner: print the receipt and hand it over."))
    return redirect(reverse("intake:taken_in", args=[one.pk]) + "#receipt")


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


@require_safe
def signature(request: HttpRequest, pk: int) -> HttpResponse:
    """The signature on glass as a picture."""
    signed = papers.signature_of(_drop_off(request, pk))
    if signed is None or not signed.drawn:
        raise Http404
    return as_picture(bytes(signed.drawn), "signature.png", "image/png")


def _pdf(content: bytes, name: str) -> HttpResponse:
    headers = {"Content-Disposition": f'inline; filename="{name}.pdf"'}
    return HttpResponse(content, content_type="application/pdf", headers=headers)
