"""A piece that the book does not know yet, and a new owner of one that it does."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from service_center.access.models import Staff
from service_center.access.signed_in import staff_of
from service_center.book.models import Boutique, Piece
from service_center.intake import queries
from service_center.intake.drafts.actions import begin
from service_center.intake.newcomers import actions
from service_center.intake.newcomers.forms import OwnerForm, PieceForm, mark_of
from service_center.intake.newcomers.queries import (
    LikeOwner,
    LikePieces,
    like_owners,
    like_pieces,
    piece_written,
    was_written,
)
from service_center.intake.rules import Stop

NOTHING_LIKE = LikePieces(None, [], 0)


@require_http_methods(["GET", "HEAD", "POST"])
def new_piece(request: HttpRequest) -> HttpResponse:
    """Write a piece and its owner, after a look at what the book has that is like them; then its drop-off begins."""
    staff, today = staff_of(request), timezone.localdate()
    boutique = queries.boutique_of(staff)
    if request.method != "POST":
        piece_form = PieceForm(initial={"serial": request.GET.get("serial", "")[:64]}, today=today)
        return _page(request, piece_form, _first_owner(boutique))
    piece_form, owner_form = PieceForm(request.POST, today=today), OwnerForm(request.POST)
    valid = all([piece_form.is_valid(), owner_form.is_valid()])
    serial, mark = piece_form.cleaned_data.get("serial", ""), mark_of(piece_form, owner_form)
    pieces = like_pieces(serial, staff)
    owners = _alike(owner_form, staff)
    asked_again = bool(pieces.near or pieces.elsewhere) and piece_form.cleaned_data.get(
        "another"
    ) != piece_form.asks_about(pieces)
    owner = owner_form.chosen(owners) if valid else None
    if owner and not pieces.same and not asked_again:
        data = piece_form.cleaned_data
        try:
            piece = actions.new_piece(
                serial=serial,
                model=data["model"],
                sold_on=data["sold_on"],
                owner=owner,
                boutique=boutique,
                by=staff,
                as_of=today,
                mark=mark,
            )
            return _begun(request, piece, boutique)
        except actions.KnownAlreadyError:
            pieces = like_pieces(serial, staff)
    # After the look at what is like it: a second tap finds there what the first one wrote.
    written = piece_written(mark, serial) if valid else None
    if written:
        return _begun(request, written, boutique)
    if pieces.same:
        piece_form.add_error("serial", _("The book has a piece with this serial: take that one in."))
    return _page(request, piece_form, owner_form, pieces=pieces, owners=owners)


@require_http_methods(["GET", "HEAD", "POST"])
def owner_of(request: HttpRequest, pk: int) -> HttpResponse:
    """Say whose a known piece is now. Of a lost or stolen one nothing can be said here.

    Asked from the page of the piece (`?back=piece`) it leads there again, since the piece is not here; and it may be
    that nobody knows who has it.
    """
    staff, boutique = staff_of(request), queries.boutique_of(staff_of(request))
    found = queries.piece_at_counter(staff, pk, serial=request.GET.get("serial", ""))
    if found is None or found.stop in {Stop.LOST, Stop.STOLEN}:
        raise Http404
    back = request.GET.get("back") == "piece" and found.shows_owner
    context: dict[str, Any] = {"piece": found.piece, "shows_owner": found.shows_owner, "back": back}
    if request.method != "POST":
        return _page(request, None, _first_owner(boutique), **context)
    if back and "nobody" in request.POST:
        actions.change_owner(found.piece, None, boutique=boutique, by=staff, as_of=timezone.localdate())
        messages.success(request, _("Written down: nobody knows who has it now. Nobody is written to about it."))
        return redirect("pieces:piece", pk=pk)
    form = OwnerForm(request.POST)
    valid, mark = form.is_valid(), mark_of(form)
    owners = _alike(form, staff)
    owner = form.chosen(owners) if valid else None
    if owner:
        actions.change_owner(found.piece, owner, boutique=boutique, by=staff, as_of=timezone.localdate(), mark=mark)
    elif not valid or not was_written(mark, found.piece.serial):  # a second tap finds alike whom the first one wrote
        return _page(request, None, form, owners=owners, **context)
    messages.success(request, _("The owner is written down."))
    if back:
        return redirect("pieces:piece", pk=pk)
    return _begun(request, found.piece, boutique)


def _first_owner(boutique: Boutique | None) -> OwnerForm:
    return OwnerForm(initial={"language": "en", "country": boutique.country if boutique else ""})


def _alike(form: OwnerForm, staff: Staff) -> list[LikeOwner]:
    said = form.cleaned_data
    return like_owners(name=said.get("name", ""), phone=said.get("phone", ""), email=said.get("email", ""), staff=staff)


def _begun(request: HttpRequest, piece: Piece, boutique: Boutique | None) -> HttpResponse:
    if boutique is None or piece.place != "owner":
        return redirect("intake:drop_off", pk=piece.pk)
    draft = begin(piece, boutique, by=staff_of(request), at=timezone.now())
    return redirect("intake:started", pk=draft.pk)


def _page(
    request: HttpRequest,
    piece_form: PieceForm | None,
    owner_form: OwnerForm,
    *,
    pieces: LikePieces = NOTHING_LIKE,
    owners: list[LikeOwner] | None = None,
    **more: Any,
) -> HttpResponse:
    wrong = bool((piece_form and piece_form.errors) or owner_form.errors)
    asks = bool(pieces.near or pieces.elsewhere or owners)
    context = {
        "piece_form": piece_form,
        "owner_form": owner_form,
        "pieces": pieces,
        "asks_about": piece_form.asks_about(pieces) if piece_form and piece_form.is_bound else "",
        "owners": owners or [],
        **more,
    }
    return render(request, "intake/newcomer.html", context, status=422 if wrong else 409 if asks else 200)
