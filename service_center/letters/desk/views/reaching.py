"""Owners whom mail does not reach: the list, the letter on paper, and that they were reached."""

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from service_center.access.models import Staff
from service_center.access.signed_in import staff_of
from service_center.book.models import Owner
from service_center.book.wording import name_of_language
from service_center.letters import actions, papers
from service_center.letters.desk.words import REASONS, STATES
from service_center.letters.forms import ReachedForm
from service_center.letters.models import Letter
from service_center.letters.queries import reaching, unsaid
from service_center.letters.queries.coming import room_to_work
from service_center.letters.queries.orders import ToTell, orders_to_tell
from service_center.letters.returned.words import why
from service_center.letters.rules.words import AnswerChoice, Channel, LetterState


@require_safe
def reach(request: HttpRequest) -> HttpResponse:
    """Whom to telephone or write to on paper, and whom to leave alone."""
    today = timezone.localdate()
    after = reaching.Cursor.from_text(request.GET.get("after", ""))
    first = after == reaching.FROM_THE_BEGINNING
    with room_to_work():
        found = reaching.to_reach(today, after)
        left, more_left = reaching.left_alone(today) if first else ([], False)
    return render(
        request,
        "letters/reach.html",
        {
            "orders": [_to_tell(one) for one in orders_to_tell()] if first else [],
            "refused": unsaid.refused()[: reaching.PREPARED_SHOWN] if first else [],
            "came_back": _came_back() if first else [],
            "prepared": reaching.prepared()[: reaching.PREPARED_SHOWN],
            "prepared_shown": reaching.PREPARED_SHOWN,
            "rows": [(row, REASONS[row.reason], name_of_language(row.owner.language)) for row in found.rows],
            "following": found.following,
            "after": not first,
            "left": [(row.piece, REASONS[row.reason]) for row in left],
            "more_left": more_left,
        },
    )


def _came_back() -> list[tuple[unsaid.CameBack, str]]:
    """Letters that came back for good, and why."""
    letters = unsaid.came_back()[: reaching.PREPARED_SHOWN]
    return [(one, why(one.report)) for one in unsaid.with_reports(list(letters))]


def _to_tell(one: ToTell) -> tuple[ToTell, str | Promise, str]:
    """An order's news, why no letter brings it (empty: none is written), and the owner's language."""
    owner = one.order.owner
    return one, REASONS[one.reason] if one.reason else "", name_of_language(owner.language) if owner else ""


@require_POST
def prepare(request: HttpRequest, pk: int) -> HttpResponse:
    """Write the letter that an owner would have had by mail, and go to it."""
    owner = get_object_or_404(Owner, pk=pk)
    try:
        letter = actions.prepare(owner, as_of=timezone.localdate(), by=staff_of(request))
    except actions.NothingToSay:
        messages.warning(
            request, _("There is nothing to say to this owner today, or somebody has prepared it already.")
        )
        return redirect("letters:reach")
    return redirect("letters:letter", pk=letter.pk)


@require_POST
def prepare_unsaid(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a letter that was refused, or came back, for one to be told or posted, and stay on its page."""
    letter = get_object_or_404(Letter, pk=pk)
    try:
        actions.prepare_unsaid(letter, on=timezone.localdate(), by=staff_of(request))
    except actions.NothingToSay:
        messages.warning(
            request, _("There is nothing to say to this owner today, or somebody has prepared it already.")
        )
    return redirect("letters:letter", pk=pk)


@require_POST
def on_paper(request: HttpRequest, pk: int) -> HttpResponse:
    """The letter as PDF, with a link of its own: hence a POST."""
    letter, now = _letter(pk), timezone.now()
    try:
        links = actions.links_on_paper(letter, now=now)
    except actions.NotPrepared as state:
        word = STATES[LetterState(str(state))]
        messages.warning(request, _("Nothing was printed: the letter is %(state)s now.") % {"state": word})
        return redirect("letters:letter", pk=pk)
    return HttpResponse(
        papers.on_paper(letter, links, now),
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'inline; filename="letter-{letter.pk}.pdf"',
            "Cache-Control": "no-store",
        },
    )


@require_POST
def reached(request: HttpRequest, pk: int) -> HttpResponse:
    """Write down that the owner was reached, and what they said; with errors, the letter's page again."""
    letter, today = _letter(pk), timezone.localdate()
    form = ReachedForm(request.POST, planned_on=letter.planned_on, today=today)
    if not form.is_valid():
        return render(request, "letters/reached.html", {"letter": letter, "form": form}, status=422)
    try:
        _write_down(letter, form, by=staff_of(request))
    except actions.NotPrepared as state:
        word = STATES[LetterState(str(state))]
        messages.warning(request, _("Nothing was changed: the letter is %(state)s now.") % {"state": word})
    else:
        messages.success(request, _("Written down. Its steps count as gone out that day."))
        if form.cleaned_data["answer"] == AnswerChoice.DONE_ELSEWHERE:
            messages.info(
                request, _("Record what was done elsewhere on the page of the piece, once you saw a document.")
            )
    return redirect("letters:reach")


@require_POST
def put_back(request: HttpRequest, pk: int) -> HttpResponse:
    """The owner was not reached: back to the list."""
    letter = _letter(pk)
    try:
        actions.put_back(letter, on=timezone.localdate(), by=staff_of(request))
    except actions.NotPrepared as state:
        word = STATES[LetterState(str(state))]
        messages.warning(request, _("Nothing was changed: the letter is %(state)s now.") % {"state": word})
    else:
        messages.success(request, _("The owner stands on the list again."))
    return redirect("letters:reach")


@transaction.atomic
def _write_down(letter: Letter, form: ReachedForm, *, by: Staff) -> None:
    said = form.cleaned_data
    actions.note_reached(letter, Channel(said["channel"]), on=said["on"], note=said["note"], by=by)
    if not said["answer"]:
        return
    choice = AnswerChoice(said["answer"])
    about = [None] if choice is AnswerChoice.NO_MORE_LETTERS else reaching.pieces_of(letter)
    for piece in about:
        actions.record_answer(
            owner=letter.owner,
            letter=letter,
            piece=piece,
            choice=choice,
            day=said["day"],
            boutique=None,
            on=said["on"],
            by=by,
        )


def _letter(pk: int) -> Letter:
    return get_object_or_404(Letter.objects.select_related("owner"), pk=pk)
