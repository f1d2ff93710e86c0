"""What an owner sees and does behind a letter's link. A look changes nothing; each answer is a button."""

from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from service_center.letters.models import Letter
from service_center.letters.rules.words import AnswerChoice, LetterSort, LinkPurpose
from service_center.owner_pages import actions
from service_center.owner_pages.door import behind_link, link_csrf, only_shows, todays_date
from service_center.owner_pages.forms import AnswerForm, answers_for, together
from service_center.owner_pages.page import Wrong, context_of
from service_center.owner_pages.queries import PieceAsked, pieces_of, who_receives
from service_center.owner_pages.views.orders import order_page

AGAIN = "letters_again"
ABOUT_LETTERS = {AnswerChoice.NO_MORE_LETTERS.value: actions.stop_letters, AGAIN: actions.resume_letters}
ONE_CLICK = ("List-Unsubscribe", "One-Click")  # RFC 8058, section 3.2


@only_shows
@behind_link(LinkPurpose.PAGE)
def letter(request: HttpRequest, letter: Letter, token: str) -> HttpResponse:
    """The letter's page; of a letter about an order, the order."""
    if letter.sort == LetterSort.ORDER:
        return order_page(request, letter, token)
    return _page(request, letter, token, thanks="thanks" in request.GET, unheard="unheard" in request.GET)


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
    if choice in ABOUT_LETTERS:
        ABOUT_LETTERS[choice](letter, on=today)
        return redirect(f"{page}?thanks#letters")
    serials = frozenset(request.POST.getlist("piece"))
    pieces = [of for of in pieces_of(letter, today) if of.piece.serial in serials and of.services]
    form = _form(request, letter, pieces, choice, today) if len(pieces) == len(serials) else None
    if form is None:
        return _page(request, letter, token, unheard=True, status=400)
    chosen = AnswerChoice(choice)
    if not form.is_valid():
        return _page(request, letter, token, wrong=Wrong(serials, chosen, request.POST), status=422)
    actions.answer(letter, pieces, choice=chosen, on=today, now=timezone.now(), **form.answer())
    return redirect(f"{page}?thanks")


def _form(
    request: HttpRequest, letter: Letter, pieces: list[PieceAsked], choice: str, today: date
) -> AnswerForm | None:
    """The form that was sent; None for one that the page does not have. Only a visit can be for several pieces."""
    if not pieces or choice not in set(AnswerChoice):
        return None
    chosen, boutiques = AnswerChoice(choice), who_receives(letter.owner, pieces).by_day
    if len(pieces) == 1:
        return answers_for(pieces[0], boutiques, today=today, chosen=chosen, data=request.POST).of(chosen)
    return together(pieces, boutiques, today=today, data=request.POST) if chosen is AnswerChoice.BOOKED else None


@csrf_exempt  # RFC 8058, section 3.1: mail programs send no cookie; the secret in the address is the proof
@require_http_methods(["GET", "HEAD", "POST"])
@behind_link(LinkPurpose.STOP)
def stop_letters(request: HttpRequest, letter: Letter, token: str) -> HttpResponse:
    """Stops an owner's letters at a POST from a mail program or from this page's own button; a GET shows the button.

    The page's other button takes it back; no mail program sends what that one does.
    """
    again, unheard = request.method == "POST" and AGAIN in request.POST, False
    if request.method == "POST":
        name, value = ONE_CLICK
        if again:
            actions.resume_letters(letter, on=todays_date(letter))
        elif request.POST.get(name) == value:
            actions.stop_letters(letter, on=todays_date(letter))
        else:
            unheard = True
        letter.owner.refresh_from_db()
    context = {"letter": letter, "token": token, "again": again, "unheard": unheard}
    return render(request, "owner_pages/stop_letters.html", context, status=400 if unheard else 200)


def _page(
    request: HttpRequest,
    letter: Letter,
    token: str,
    *,
    thanks: bool = False,
    unheard: bool = False,
    wrong: Wrong | None = None,
    status: int = 200,
) -> HttpResponse:
    context = context_of(letter, todays_date(letter), timezone.now(), wrong)
    context |= {"token": token, "thanks": thanks, "unheard": unheard}
    return render(request, "owner_pages/letter.html", context, status=status)
