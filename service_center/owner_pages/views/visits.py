"""A place at a boutique: the owner books it, moves it, gives it up, and puts it into a calendar."""

from collections.abc import Callable
from uuid import UUID, uuid4

from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from service_center.intake.visits import actions, queries
from service_center.intake.visits.actions import AlreadyComing, JustTaken, NoLongerOpen, NotOffered, Wish
from service_center.intake.visits.calendar_entry import CONTENT_TYPE, calendar_entry, method_of
from service_center.intake.visits.models import Visit
from service_center.intake.visits.rules import VisitState
from service_center.letters.models import Letter
from service_center.letters.rules.words import LinkPurpose
from service_center.owner_pages.door import behind_link, link_csrf, only_shows, todays_date
from service_center.owner_pages.forms import CancelForm, PlaceForm
from service_center.owner_pages.queries import pieces_of, who_receives
from service_center.owner_pages.visit_page import Choosing, context_of
from service_center.owner_pages.wording import visit_in_words

JUST_TAKEN, NOT_OFFERED = "just_taken", "not_offered"


@csrf_exempt  # checked by link_csrf instead, which knows that these pages send no referrer
@require_http_methods(["GET", "HEAD", "POST"])
@behind_link(LinkPurpose.PAGE)
@link_csrf
def book(request: HttpRequest, letter: Letter, token: str) -> HttpResponse:
    """Choose a boutique, a day and an hour; the hour's button books it. A place that is gone is told, with the next."""
    choosing = _choosing(letter, request.POST if request.method == "POST" else request.GET)
    if choosing is None:
        return _to_the_letter(token, unheard=request.method == "POST")
    if request.method != "POST":
        return _choose(request, letter, token, choosing)

    def deed(wish: Wish, form_key: UUID) -> Visit:
        return actions.book(
            letter, choosing.pieces, wish, form_key=form_key, on=todays_date(letter), now=timezone.now()
        )

    return _take(request, letter, token, choosing, deed)


@csrf_exempt  # as above
@require_http_methods(["GET", "HEAD", "POST"])
@behind_link(LinkPurpose.PAGE)
@link_csrf
def move(request: HttpRequest, letter: Letter, token: str, pk: int) -> HttpResponse:
    """The same, for a visit that is booked: it stays until the other place is certain."""
    one, asked = _visit_of(letter, pk), request.POST if request.method == "POST" else request.GET
    boutiques = who_receives(letter.owner, pieces_of(letter, todays_date(letter))).by_hour
    if not boutiques or not _can_change(one):
        return redirect("owner_pages:visit", token=token, pk=pk)
    choosing = Choosing(queries.pieces_on(one), boutiques, asked, moving=one)
    if request.method != "POST":
        return _choose(request, letter, token, choosing)

    def deed(wish: Wish, form_key: UUID) -> Visit:
        return actions.move(one, wish, form_key=form_key, on=todays_date(letter), now=timezone.now())

    return _take(request, letter, token, choosing, deed)


@only_shows
@behind_link(LinkPurpose.PAGE)
def visit(request: HttpRequest, letter: Letter, token: str, pk: int) -> HttpResponse:
    """What is booked, and what can be done about it."""
    return _show(request, letter, token, _visit_of(letter, pk))


@csrf_exempt  # as above
@require_http_methods(["GET", "HEAD", "POST"])
@behind_link(LinkPurpose.PAGE)
@link_csrf
def cancel(request: HttpRequest, letter: Letter, token: str, pk: int) -> HttpResponse:
    """Give the place up. Looking at this address leads to the visit."""
    one, today = _visit_of(letter, pk), todays_date(letter)
    if request.method == "POST":
        form = CancelForm(request.POST, today=today)
        if not form.is_valid():
            return _show(request, letter, token, one, form=form, status=422)
        said = form.cleaned_data
        try:
            actions.cancel(one, ask_again=said["day"], form_key=said["form_key"], on=today, now=timezone.now())
        except NoLongerOpen:
            return _show(request, letter, token, one, refused=True, status=409)
    return redirect("owner_pages:visit", token=token, pk=pk)


@only_shows
@behind_link(LinkPurpose.PAGE)
def calendar(request: HttpRequest, letter: Letter, token: str, pk: int) -> HttpResponse:
    """The visit as a file for the owner's calendar; once cancelled, what takes it out again."""
    one = _visit_of(letter, pk)
    headers = {"Content-Disposition": f'attachment; filename="{one.day.isoformat()}.ics"'}
    content_type = CONTENT_TYPE.format(method=method_of(one))
    return HttpResponse(calendar_entry(one, queries.pieces_on(one)), content_type=content_type, headers=headers)


def _choosing(letter: Letter, asked: QueryDict) -> Choosing | None:
    """What an owner may choose for the pieces named; None where one of them is not for them to bring."""
    serials = frozenset(asked.getlist("piece"))
    pieces = pieces_of(letter, todays_date(letter))
    chosen = [of.piece for of in pieces if of.piece.serial in serials and of.services]
    boutiques = who_receives(letter.owner, pieces).by_hour
    return Choosing(chosen, boutiques, asked) if boutiques and chosen and len(chosen) == len(serials) else None


def _visit_of(letter: Letter, pk: int) -> Visit:
    """A visit of the letter's owner with one of the letter's pieces: other letters open other visits."""
    pieces = letter.reminders.filter(ended_on=None, piece__owner=letter.owner_id).values_list("piece", flat=True)
    found = queries.visits_of(letter.owner, list(pieces)).filter(pk=pk).first()
    if found is None:
        raise Http404
    return found


def _can_change(one: Visit) -> bool:
    return one.state == VisitState.BOOKED and one.starts_at > timezone.now()


def _take(
    request: HttpRequest, letter: Letter, token: str, choosing: Choosing, deed: Callable[[Wish, UUID], Visit]
) -> HttpResponse:
    """Ask for the place whose button was pressed, and say what became of it."""
    form = PlaceForm(request.POST, boutiques=list(choosing.boutiques))
    if not form.is_valid():
        return _choose(request, letter, token, choosing, refused=NOT_OFFERED, status=422)
    wish = form.wish()
    try:
        got = deed(wish, form.cleaned_data["form_key"])
    except JustTaken:
        missed = Choosing(choosing.pieces, choosing.boutiques, choosing.asked, choosing.moving, wish)
        return _choose(request, letter, token, missed, refused=JUST_TAKEN, status=409)
    except NotOffered:
        return _choose(request, letter, token, choosing, refused=NOT_OFFERED, status=409)
    except AlreadyComing as refused:
        return redirect(reverse("owner_pages:visit", kwargs={"token": token, "pk": refused.visit.pk}) + "?already")
    except NoLongerOpen:
        return _to_the_letter(token, unheard=True)
    return redirect(reverse("owner_pages:visit", kwargs={"token": token, "pk": got.pk}) + "?thanks")


def _to_the_letter(token: str, *, unheard: bool) -> HttpResponse:
    """Where what can be done now is shown. `unheard`: a button was pressed and could not be heeded; it is told there."""
    return redirect(reverse("owner_pages:letter", kwargs={"token": token}) + ("?unheard" if unheard else ""))


def _choose(
    request: HttpRequest, letter: Letter, token: str, choosing: Choosing, *, refused: str = "", status: int = 200
) -> HttpResponse:
    context = context_of(choosing, today=todays_date(letter), now=timezone.now())
    context |= {"letter": letter, "token": token, "refused": refused}
    return render(request, "owner_pages/choose_place.html", context, status=status)


def _show(
    request: HttpRequest,
    letter: Letter,
    token: str,
    one: Visit,
    *,
    form: CancelForm | None = None,
    refused: bool = False,
    status: int = 200,
) -> HttpResponse:
    context = {
        "letter": letter,
        "token": token,
        "visit": one,
        "said": visit_in_words(one, coming=_can_change(one)),
        "pieces": queries.pieces_on(one),
        "cancelled": one.state == VisitState.CANCELLED,
        "can_change": _can_change(one),
        "thanks": "thanks" in request.GET and one.state == VisitState.BOOKED,
        "form": form or CancelForm(today=todays_date(letter)),
        "form_key": uuid4(),
        "open": form is not None,
        "refused": refused,
        "already": "already" in request.GET and _can_change(one),
    }
    return render(request, "owner_pages/visit.html", context, status=status)
