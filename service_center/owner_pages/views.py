"""What an owner sees and does behind a letter's link. A look changes nothing; each answer is a button."""

from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_safe

from service_center.book.models import Owner
from service_center.guarantee.queries import decision_of
from service_center.letters import compose_words
from service_center.letters.models import Letter
from service_center.letters.rules.words import AnswerChoice, LinkPurpose
from service_center.owner_pages import actions
from service_center.owner_pages.door import behind_link, link_csrf, todays_date
from service_center.owner_pages.forms import answers_for
from service_center.owner_pages.queries import PieceInLetter, boutiques_for, pieces_of
from service_center.owner_pages.wording import answer_in_words

LETTERS_AGAIN = "letters_again"
ONE_CLICK = ("List-Unsubscribe", "One-Click")  # RFC 8058, section 3.2


@require_safe
@behind_link(LinkPurpose.PAGE)
def letter(request: HttpRequest, letter: Letter, token: str) -> HttpResponse:
    """The letter's page."""
    return _page(request, letter, token, thanks="thanks" in request.GET)


@csrf_exempt  # checked by link_csrf instead, which knows that these pages send no referrer
@require_http_methods(["GET", "HEAD", "POST"])
@behind_link(LinkPurpose.PAGE)
@link_csrf
def answer(request: HttpRequest, letter: Letter, token: str) -> HttpResponse:
    """One answer; then the letter's page again, which shows it. Looking at this address leads there too."""
    page = reverse("owner_pages:letter", kwargs={"token": token})
    if request.method != "POST":
        return redirect(page)
    today, choice = todays_date(letter), request.POST.get("choice", "")
    if choice == AnswerChoice.NO_MORE_LETTERS:
        actions.stop_letters(letter, on=today)
        return redirect(f"{page}?thanks#letters")
    if choice == LETTERS_AGAIN:
        actions.resume_letters(letter)
        return redirect(f"{page}?thanks#letters")
    of = next((one for one in pieces_of(letter, today) if one.piece.serial == request.POST.get("piece")), None)
    if of is None or not of.services or choice not in set(AnswerChoice):
        return _page(request, letter, token, status=400)
    chosen = AnswerChoice(choice)
    offered = answers_for(of, boutiques_for(letter.owner, [of]), today=today, chosen=chosen, data=request.POST)
    form = offered.of(chosen)
    if form is None or not form.is_valid():
        return _page(request, letter, token, wrong=(of.piece.serial, chosen), status=422)
    actions.answer(letter, of, choice=chosen, on=today, **form.answer())
    return redirect(f"{page}?thanks#piece-{of.piece.pk}")


@csrf_exempt  # RFC 8058, section 3.1: mail programs send no cookie; the secret in the address is the proof
@require_http_methods(["GET", "HEAD", "POST"])
@behind_link(LinkPurpose.STOP)
def stop_letters(request: HttpRequest, letter: Letter, token: str) -> HttpResponse:
    """Stops an owner's letters at a POST from a mail program or from this page's own button; a GET shows the button."""
    if request.method == "POST":
        name, value = ONE_CLICK
        if request.POST.get(name) != value:
            return HttpResponseBadRequest(f"{name}={value} is missing", content_type="text/plain")
        actions.stop_letters(letter, on=todays_date(letter))
        letter.owner.refresh_from_db()
    return render(request, "owner_pages/stop_letters.html", {"letter": letter, "token": token})


def _page(
    request: HttpRequest,
    letter: Letter,
    token: str,
    *,
    thanks: bool = False,
    wrong: tuple[str, AnswerChoice] | None = None,
    status: int = 200,
) -> HttpResponse:
    today = todays_date(letter)
    pieces = pieces_of(letter, today)
    boutiques = boutiques_for(letter.owner, pieces)
    cards = []
    for of in pieces:
        chosen = wrong[1] if wrong and wrong[0] == of.piece.serial else None
        forms = answers_for(of, boutiques, today=today, chosen=chosen, data=request.POST if chosen else None)
        cards.append(_card(of, letter.owner, today) | {"forms": forms, "open": chosen})
    context = {"letter": letter, "token": token, "cards": cards, "thanks": thanks}
    return render(request, "owner_pages/letter.html", context, status=status)


def _card(of: PieceInLetter, owner: Owner, today: date) -> dict[str, Any]:
    """One piece as the page shows it: what its letter says. One statement, for the guarantee."""
    piece = of.piece
    cover = decision_of(piece, today, country=owner.country).cover
    rated = bool(piece.model and piece.model.rated_bar is not None)
    return {
        "piece": piece,
        "services": [
            {
                "what": compose_words.what(due.kind),
                "why": compose_words.why(due, today),
                "caution": compose_words.caution(due),
                "takes": compose_words.takes(due.kind, rated=rated),
            }
            for due in of.services
        ],
        "where": compose_words.where(str(piece.boutique or "")),
        "guarantee": compose_words.guarantee_runs(cover.to_on) if cover else "",
        "answer": answer_in_words(of.answer) if of.answer else "",
    }
