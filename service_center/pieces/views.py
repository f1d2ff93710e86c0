"""Today, the search, a piece's page, and writing down what was done to it."""

from collections.abc import Mapping

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from service_center.access.models import Staff
from service_center.access.rules import COUNTER, DESK, WORK, Role
from service_center.book.models import HistoryEntry, Piece
from service_center.book.queries import pieces_visible_to
from service_center.book.rules import Place, Status
from service_center.guarantee import words as guarantee_words
from service_center.guarantee.queries import decision_of
from service_center.intervals.queries import due_of
from service_center.intervals.rules import because, state_on
from service_center.letters.bounce_words import why_stopped
from service_center.letters.desk_words import GROUNDS
from service_center.letters.queries.bounces import alarm, stop_of
from service_center.letters.queries.grounds import latest_ground
from service_center.letters.rules.words import Ground
from service_center.pieces import actions, queries, wording
from service_center.pieces.forms import EntryForm, HandBackForm, StrikeForm
from service_center.pieces.timeline import timeline

LISTED = 12
FORM_USED = _lazy("This form was used for another piece. Open the page anew and write it once more.")
CORRECTED = _lazy("That entry was corrected before. Correct the later one, if it is wrong too.")


def _staff(request: HttpRequest) -> Staff:
    assert isinstance(request.user, Staff)  # the door let nobody else in
    return request.user


def _piece(request: HttpRequest, pk: int) -> Piece:
    visible = pieces_visible_to(_staff(request)).select_related("model__calibre", "owner", "boutique")
    return get_object_or_404(visible, pk=pk)


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """What matters today to whoever is signed in."""
    staff, today = _staff(request), timezone.localdate()
    own = staff.boutique if staff.role == Role.BOUTIQUE else None
    here = list(queries.in_the_house(staff)[: LISTED + 1])
    context = {
        "today": today,
        "here": here[:LISTED],
        "more_here": len(here) > LISTED,
        "taken_in": queries.taken_in_since(queries.monday_of(today), staff),
        "due": _counted(queries.due_counts(today, boutique=own), wording.STATES) if staff.role in COUNTER else [],
        "letters": _counted(queries.letter_counts(), wording.LETTER_STATES) if staff.role in DESK else [],
        "alarm": alarm(timezone.now()) if staff.role in DESK else None,
        "at_counter": staff.role in COUNTER,
    }
    return render(request, "pieces/home.html", context)


def _counted(counts: Mapping[str, queries.Count], names: wording.Words) -> list[dict[str, object]]:
    return [{"state": state, "name": names[state], "count": count} for state, count in counts.items()]


@require_safe
def search(request: HttpRequest) -> HttpResponse:
    """One box for serials, owners and telephones; a whole serial, as a scanner types it, leads straight to the piece."""
    staff, text = _staff(request), request.GET.get("q", "").replace("\0", "").strip()[:100]
    found = queries.find(text, staff) if len(text) > 1 else queries.Found(None, [], more=False)
    if found.exact:
        return redirect("pieces:piece", pk=found.exact.pk)
    rows = [(piece, queries.shows_owner(piece, staff), wording.PLACES[piece.place]) for piece in found.pieces]
    context = {"sought": text, "rows": rows, "more": found.more, "too_short": len(text) <= 1}
    return render(request, "pieces/search.html", context)


@require_safe
def piece(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything about one piece: whose, where, what is due and why, the guarantee, what happened."""
    staff, today, one = _staff(request), timezone.localdate(), _piece(request, pk)
    decision = decision_of(one, today, country=one.owner.country if one.owner else "")
    context = {
        "piece": one,
        "owner": one.owner if queries.shows_owner(one, staff) else None,
        "gone": one.status in {Status.LOST, Status.STOLEN},
        "place": wording.PLACES[one.place],
        "status": wording.STATUSES[one.status] if one.status else "",
        "use": wording.USES[one.use] if one.use else "",
        "due": [
            {
                "due": due,
                "name": wording.SERVICE_KINDS[due.kind],
                "state": (state := state_on(today, due)).value,
                "state_name": wording.STATES[state],
                "because": because(due, today).sentence,
            }
            for due in due_of(one, today)
        ],
        "guarantee": {
            "name": guarantee_words.name_of(decision.covered_by),
            "covered": decision.cover is not None,
            "sentence": guarantee_words.sentence(decision),
            "notes": guarantee_words.notes(decision),
            "law": guarantee_words.statutory_note(),
        },
        "timeline": timeline(one),
        "stopped": (stopped := stop_of(one.owner.email) if one.owner else None),
        "why_stopped": why_stopped(stopped) if stopped else "",
        "ground": (ground := latest_ground(one.owner) if one.owner else None),
        "ground_name": GROUNDS[Ground(ground.ground)] if ground else "",
        "works": staff.role in WORK,
        "reads_letters": staff.role in DESK,
        "takes_in": staff.role in COUNTER and one.place == Place.OWNER,
    }
    return render(request, "pieces/piece.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def record_entry(request: HttpRequest, pk: int) -> HttpResponse:
    """Write something done to a piece into its history."""
    one, today = _piece(request, pk), timezone.localdate()
    if request.method == "POST":
        form = EntryForm(request.POST, piece=one, as_of=today)
        if form.is_valid():
            try:
                actions.record_entry(one, **form.deed(), by=_staff(request), as_of=today)
            except actions.FormUsedError:
                form.add_error(None, FORM_USED)
            except actions.CannotVoid:
                form.add_error(None, CORRECTED)
            else:
                messages.success(request, _("The entry is in the history, and the due dates follow it."))
                return redirect("pieces:piece", pk=one.pk)
    else:
        form = EntryForm(piece=one, as_of=today, initial=_begun(one, request))
    context = {"piece": one, "form": form, "corrects": form["corrects"].value(), "strike_form": StrikeForm()}
    return render(request, "pieces/record_entry.html", context)


def _begun(one: Piece, request: HttpRequest) -> dict[str, object]:
    """What the form starts with where it takes another entry's place (`?corrects=`), perhaps to accept it."""
    code = request.GET.get("corrects", "").replace("\0", "")
    wrong = HistoryEntry.objects.filter(piece=one, code=code).first() if code else None
    if wrong is None:
        return {}
    return {
        "corrects": wrong.code,
        "kind": wrong.kind,
        "done_on": wrong.done_on,
        "done_by": wrong.done_by,
        "accepted": wrong.accepted or "accept" in request.GET,
        "case_opened": {True: "yes", False: "no", None: ""}[wrong.case_opened],
        "tightness": wrong.tightness,
        "note": wrong.note,
    }


@require_POST
def strike_entry(request: HttpRequest, pk: int, code: str) -> HttpResponse:
    """Say that an entry's work never happened."""
    one, form = _piece(request, pk), StrikeForm(request.POST)
    entry = get_object_or_404(HistoryEntry, piece=one, code=code)
    if not form.is_valid():
        begun = EntryForm(piece=one, as_of=timezone.localdate(), initial={"corrects": code})
        context = {"piece": one, "form": begun, "corrects": code, "strike_form": form}
        return render(request, "pieces/record_entry.html", context, status=422)
    try:
        actions.strike_entry(entry, reason=form.cleaned_data["reason"], by=_staff(request), as_of=timezone.localdate())
    except actions.CannotVoid:
        messages.error(request, CORRECTED)
    else:
        messages.success(request, _("The entry no longer counts, and the due dates follow."))
    return redirect("pieces:piece", pk=one.pk)


@require_http_methods(["GET", "HEAD", "POST"])
def hand_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Record the finished service and give the piece to its owner."""
    one, today = _piece(request, pk), timezone.localdate()
    if request.method == "POST":
        form = HandBackForm(request.POST, piece=one, as_of=today)
        if form.is_valid():
            try:
                actions.hand_back(one, **form.deed(), at=timezone.now(), by=_staff(request), as_of=today)
            except actions.FormUsedError:
                form.add_error(None, FORM_USED)
            except actions.WithItsOwnerError:
                form.add_error(None, _("The owner has this piece already. Record the work in its history instead."))
            else:
                messages.success(request, _("The piece is with its owner, and its new interval has begun."))
                return redirect("pieces:piece", pk=one.pk)
    else:
        form = HandBackForm(piece=one, as_of=today)
    return render(request, "pieces/hand_back.html", {"piece": one, "form": form})
