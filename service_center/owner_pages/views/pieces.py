"""One piece behind a letter's link: its past, its papers, where it is, and the extended guarantee."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import translation

from service_center.bench.report import service_report
from service_center.bench.report import size_for as report_size
from service_center.book.models import Piece
from service_center.guarantee.actions import CannotEnrolError, NotTheOwnerError, enrol
from service_center.intake.papers import receipt as receipt_paper
from service_center.intake.papers import size_for
from service_center.intake.photographs.queries import Size, photographs_of_owner
from service_center.intake.photographs.views import shown
from service_center.letters.models import Letter
from service_center.owner_pages.door import todays_date
from service_center.owner_pages.opening import personal
from service_center.owner_pages.piece_page import conditions_of, context_of, enrolment_of
from service_center.owner_pages.piece_papers import finished_stays
from service_center.owner_pages.queries import drop_offs_of, letter_pieces


@personal
def piece(request: HttpRequest, letter: Letter, token: str, pk: int) -> HttpResponse:
    """Where it is, what covers it, what was done to it, and its papers."""
    return _page(request, letter, token, _piece_of(letter, pk), thanks="thanks" in request.GET)


@personal
def enrol_extension(request: HttpRequest, letter: Letter, token: str, pk: int) -> HttpResponse:
    """Register the extended guarantee; pressed twice, it is registered once. A look leads to the piece."""
    found = _piece_of(letter, pk)
    page = reverse("owner_pages:piece", kwargs={"token": token, "pk": pk})
    if request.method != "POST":
        return redirect(page)
    today = todays_date(letter)
    try:
        enrol(
            found,
            owner=letter.owner,
            on=today,
            language=translation.get_language() or "",
            conditions="\n".join(conditions_of(found, enrolment_of(found, today))),
            by=None,
            reason=f"By the owner, on the page of letter {letter.pk}.",
        )
    except CannotEnrolError:
        return _page(request, letter, token, found, refused=True, status=409)
    except NotTheOwnerError as gone:
        raise Http404 from gone
    return redirect(f"{page}?thanks#guarantee")


@personal
def receipt(request: HttpRequest, letter: Letter, token: str, pk: int) -> HttpResponse:
    """The receipt of a drop-off of the owner's own, as a file."""
    drop_off = get_object_or_404(drop_offs_of(letter.owner, letter_pieces(letter)), pk=pk)
    pdf = receipt_paper(drop_off, size=size_for(drop_off))
    headers = {"Content-Disposition": f'attachment; filename="{drop_off.number}.pdf"'}
    return HttpResponse(pdf, content_type="application/pdf", headers=headers)


@personal
def photograph(request: HttpRequest, letter: Letter, token: str, key: str) -> HttpResponse:
    """A photograph that was taken when the owner brought the piece; `?size=small` for the small one."""
    theirs = photographs_of_owner(letter.owner).filter(draft__drop_off__piece__in=letter_pieces(letter))
    found = get_object_or_404(theirs, key=key)
    return shown(found, Size.SMALL if request.GET.get("size") == Size.SMALL else Size.FULL)


@personal
def report(request: HttpRequest, letter: Letter, token: str, pk: int) -> HttpResponse:
    """The service report of a stay that is over, as a file."""
    drop_off = get_object_or_404(drop_offs_of(letter.owner, letter_pieces(letter)), pk=pk)
    stay = next((one for one in finished_stays(letter.owner, drop_off.piece) if one.drop_off.pk == pk), None)
    if stay is None:
        raise Http404
    pdf = service_report(drop_off.piece, stay, size=report_size(stay))
    headers = {"Content-Disposition": f'attachment; filename="{drop_off.number}-report.pdf"'}
    return HttpResponse(pdf, content_type="application/pdf", headers=headers)


def _piece_of(letter: Letter, pk: int) -> Piece:
    """One of the letter's pieces, as long as it is its owner's: other addresses open nothing."""
    return get_object_or_404(letter_pieces(letter), pk=pk)


def _page(
    request: HttpRequest,
    letter: Letter,
    token: str,
    found: Piece,
    *,
    thanks: bool = False,
    refused: bool = False,
    status: int = 200,
) -> HttpResponse:
    context = context_of(letter, found, todays_date(letter)) | {"token": token, "thanks": thanks, "refused": refused}
    context["unheard"] = "unheard" in request.GET
    return render(request, "owner_pages/piece.html", context, status=status)
