"""An order behind a letter's link: a look shows the estimate, a button answers it."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from service_center.bench.orders.estimate_paper import paper_of
from service_center.bench.orders.telling import hear_answer
from service_center.letters.models import Letter
from service_center.letters.rules.words import LinkPurpose
from service_center.owner_pages.door import behind_link, link_csrf, todays_date
from service_center.owner_pages.opening import personal
from service_center.owner_pages.order_page import asks_for_answer, estimate_of, order_of_letter
from service_center.owner_pages.order_words import refused_in_words
from service_center.owner_pages.piece_page import context_of
from service_center.owner_pages.queries import changed_hands
from service_center.workshop.models import OrderEstimate
from service_center.workshop.orders.actions import AnsweredBefore, NotAsked, OutOfDate
from service_center.workshop.orders.rules.answers import Heard

ANSWERS = {"agree": True, "decline": False}


@csrf_exempt  # checked by link_csrf instead, which knows that these pages send no referrer
@require_http_methods(["GET", "HEAD", "POST"])
@behind_link(LinkPurpose.PAGE)
@link_csrf
def answer_estimate(request: HttpRequest, letter: Letter, token: str, pk: int) -> HttpResponse:
    """Agree to an estimate, or decline it; pressed twice, it is one answer. A look leads to where it is shown."""
    estimate = estimate_of(letter, pk)
    if estimate is None:
        raise Http404
    page = _page_of(letter, estimate, token)
    agreed = ANSWERS.get(request.POST.get("answer", ""))
    if request.method != "POST":
        return redirect(page)
    if agreed is None:
        return redirect(f"{page}?unheard")
    try:
        hear_answer(estimate, agreed=agreed, heard=Heard.PAGE, heard_by=None, on=todays_date(letter), at=timezone.now())
    except (AnsweredBefore, NotAsked, OutOfDate) as refused:
        said = refused_in_words(refused)
        if asks_for_answer(letter):
            return order_page(request, letter, token, refused=said, status=409)
        context = context_of(letter, estimate.order.piece, todays_date(letter))
        context |= {"token": token, "answer_refused": said}
        return render(request, "owner_pages/piece.html", context, status=409)
    return redirect(f"{page}?answered#estimate")


@personal
def estimate_paper(request: HttpRequest, letter: Letter, token: str, pk: int) -> HttpResponse:
    """An estimate of the owner's own, as a file."""
    estimate = estimate_of(letter, pk)
    if estimate is None:
        raise Http404
    headers = {"Content-Disposition": f'attachment; filename="{estimate.order.number}-estimate.pdf"'}
    return HttpResponse(paper_of(estimate), content_type="application/pdf", headers=headers)


def order_page(
    request: HttpRequest, letter: Letter, token: str, *, refused: str = "", status: int = 200
) -> HttpResponse:
    """The page of a letter about an order."""
    found = order_of_letter(letter, todays_date(letter))
    piece, order = found or (None, None)
    context = {
        "letter": letter,
        "token": token,
        "piece": piece,
        "order": order,
        "gone": 0 if found else changed_hands(letter),
        "answered": "answered" in request.GET,
        "unheard": "unheard" in request.GET,
        "answer_refused": refused,
    }
    return render(request, "owner_pages/order.html", context, status=status)


def _page_of(letter: Letter, estimate: OrderEstimate, token: str) -> str:
    """Where a letter's link shows an estimate."""
    if asks_for_answer(letter):
        return reverse("owner_pages:letter", kwargs={"token": token})
    return reverse("owner_pages:piece", kwargs={"token": token, "pk": estimate.order.piece_id})
