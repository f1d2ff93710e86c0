"""The search, a piece's page, and writing down what was done to it."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from service_center.access.rules import may_open
from service_center.access.signed_in import staff_of
from service_center.book.models import HistoryEntry, Piece
from service_center.book.queries import pieces_visible_to
from service_center.book.rules import Place, Status
from service_center.measurements.models import TimingSheet
from service_center.measurements.queries import readings_as_read
from service_center.pieces import actions, queries, wording
from service_center.pieces.forms import AsOfForm, EntryForm, HandBackForm, PieceForm, StrikeForm
from service_center.pieces.order_answer import answer
from service_center.pieces.page import Asked, context_of
from service_center.pieces.sheet_form import SheetForm, StrikeSheetForm
from service_center.pieces.timeline import Sort
from service_center.pieces.timeline.work import says_never
from service_center.workshop.orders.queries.in_short import in_short
from service_center.workshop.orders.queries.listing import latest_order_of, order_meant
from service_center.workshop.orders.queries.open_orders import open_order_of

FORM_USED = _lazy("This form was used for another piece. Open the page anew and write it once more.")
CORRECTED = _lazy("That entry was corrected before. Correct the later one, if it is wrong too.")


def _piece(request: HttpRequest, pk: int) -> Piece:
    visible = pieces_visible_to(staff_of(request)).select_related("model__calibre", "owner", "boutique")
    return get_object_or_404(visible, pk=pk)


@require_safe
def search(request: HttpRequest) -> HttpResponse:
    """One box for serials, owners, telephones and numbers of orders; a whole serial or number, as a scanner types it,
    leads straight to the piece or the order."""
    staff, text = staff_of(request), request.GET.get("q", "").replace("\0", "").strip()[:100]
    order = order_meant(text, staff) if len(text) > 1 else None
    if order:
        return redirect("bench:order", number=order.number)
    found = queries.find(text, staff) if len(text) > 1 else queries.Found(None, [], more=False)
    if found.exact:
        return redirect("pieces:piece", pk=found.exact.pk)
    here = in_short([piece.pk for piece in found.pieces if piece.place != Place.OWNER], staff, timezone.localdate())
    rows = [
        {
            "piece": one,
            "shows_owner": queries.shows_owner(one, staff),
            "place": wording.PLACES[one.place],
            "gone": one.place == Place.OWNER and one.status in {Status.LOST, Status.STOLEN},
            "status": wording.STATUSES.get(one.status, ""),
            "order": answer(here.get(one.pk)),
        }
        for one in found.pieces
    ]
    context = {"sought": text, "rows": rows, "more": found.more, "owners": found.owners, "too_short": len(text) <= 1}
    context["opens_owners"] = may_open("owners:owner", staff.role)
    return render(request, "pieces/search.html", context)


@require_safe
def piece(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything about one piece, today or as of any day (`?as_of=`), its timeline whole or of one sort (`?show=`)."""
    staff, today, one = staff_of(request), timezone.localdate(), _piece(request, pk)
    form = AsOfForm(request.GET)
    asked = Asked(form.day(today), today, _sort(request.GET.get("show", "")), staff)
    order = latest_order_of(one, staff)
    hands_back = one.place != Place.OWNER and (order is None or order.closed_on is not None)
    open_order = in_short([one.pk], staff, today) if order and not order.closed_on and asked.as_of == today else {}
    context = context_of(one, asked, form) | {
        "order": order,
        "hands_back": hands_back,
        "answer": answer(open_order.get(one.pk)),
        "corrects": may_open("pieces:correct", staff.role) and asked.as_of == today,
        "changes_hands": may_open("intake:owner_of", staff.role) and asked.as_of == today,
    }
    return render(request, "pieces/piece.html", context, status=400 if form.errors else 200)


def _sort(text: str) -> Sort | None:
    return next((sort for sort in Sort if sort.value == text), None)


@require_http_methods(["GET", "HEAD", "POST"])
def correct_piece(request: HttpRequest, pk: int) -> HttpResponse:
    """Write what the book says of a piece otherwise: that it is stolen, lost, found again, or which model it is."""
    one, today = _piece(request, pk), timezone.localdate()
    form = PieceForm(request.POST if request.method == "POST" else None, piece=one, as_of=today)
    if form.is_valid():
        if actions.correct_piece(one, form.said(), why=form.cleaned_data["why"], by=staff_of(request), as_of=today):
            messages.success(request, _("Written down, and the due dates follow."))
        else:
            messages.info(request, _("Nothing was changed: the book says the same already."))
        return redirect("pieces:piece", pk=one.pk)
    return render(
        request, "pieces/correct_piece.html", {"piece": one, "form": form}, status=422 if form.errors else 200
    )


@require_http_methods(["GET", "HEAD", "POST"])
def record_entry(request: HttpRequest, pk: int) -> HttpResponse:
    """Write something done to a piece into its history."""
    one, today = _piece(request, pk), timezone.localdate()
    if request.method == "POST":
        form = EntryForm(request.POST, piece=one, as_of=today)
        if form.is_valid():
            try:
                actions.record_entry(one, **form.deed(), by=staff_of(request), as_of=today)
            except actions.FormUsedError:
                form.add_error(None, FORM_USED)
            except actions.CannotVoid:
                form.add_error(None, CORRECTED)
            else:
                messages.success(request, _("The entry is in the history, and the due dates follow it."))
                return redirect("pieces:piece", pk=one.pk)
    else:
        form = EntryForm(piece=one, as_of=today, initial=_begun(one, request))
    return render(request, "pieces/record_entry.html", _entry_context(one, form, StrikeForm()))


def _entry_context(one: Piece, form: EntryForm, strike_form: StrikeForm) -> dict[str, object]:
    """An entry that says that nothing happened cannot be struck out itself: what did happen takes its place."""
    code = form["corrects"].value() or ""
    wrong = HistoryEntry.objects.filter(piece=one, code=code).select_related("voids").first() if code else None
    never = bool(wrong and says_never(wrong))
    return {"piece": one, "form": form, "wrong": wrong, "strike_form": None if never else strike_form, "never": never}


def _begun(one: Piece, request: HttpRequest) -> dict[str, object]:
    """What the form starts with where it takes another entry's place (`?corrects=`), perhaps to accept it."""
    code = request.GET.get("corrects", "").replace("\0", "")
    wrong = HistoryEntry.objects.filter(piece=one, code=code).select_related("voids").first() if code else None
    if wrong is None:
        return {}
    accepts = {"accepted": True, "why": _("A document was seen.")} if "accept" in request.GET else {}
    return _values_of(wrong) | accepts


def _values_of(wrong: HistoryEntry) -> dict[str, object]:
    """As the wrong entry has it; of one that says that nothing happened, as the entry before it had it."""
    told = wrong.voids if wrong.voids and says_never(wrong) else wrong
    return {
        "corrects": wrong.code,
        "kind": told.kind,
        "done_on": told.done_on,
        "done_by": told.done_by,
        "accepted": told.accepted,
        "case_opened": {True: "yes", False: "no", None: ""}[told.case_opened],
        "tightness": told.tightness,
        "note": told.note,
    }


@require_POST
def strike_entry(request: HttpRequest, pk: int, code: str) -> HttpResponse:
    """Say that an entry's work never happened."""
    one, form = _piece(request, pk), StrikeForm(request.POST)
    entry = get_object_or_404(HistoryEntry, piece=one, code=code)
    if not form.is_valid():
        begun = EntryForm(piece=one, as_of=timezone.localdate(), initial=_values_of(entry))
        return render(request, "pieces/record_entry.html", _entry_context(one, begun, form), status=422)
    try:
        actions.strike_entry(
            entry, reason=form.cleaned_data["reason"], by=staff_of(request), as_of=timezone.localdate()
        )
    except actions.CannotVoid:
        messages.error(request, CORRECTED)
    else:
        messages.success(request, _("The entry no longer counts, and the due dates follow."))
    return redirect("pieces:piece", pk=one.pk)


@require_http_methods(["GET", "HEAD", "POST"])
def correct_sheet(request: HttpRequest, pk: int, sheet: int) -> HttpResponse:
    """Write a timing sheet anew, or strike it out (`strike` pressed); both sheets stay."""
    one, today = _piece(request, pk), timezone.localdate()
    wrong = get_object_or_404(TimingSheet, piece=one, pk=sheet)
    sent = request.POST if request.method == "POST" else None
    strikes = sent is not None and "strike" in sent
    form = SheetForm(None if strikes else sent, piece=one, sheet=wrong, readings=readings_as_read(wrong), as_of=today)
    strike_form = StrikeSheetForm(sent if strikes else None)
    deed = _sheet_deed(form, strike_form, wrong, strikes=strikes) if sent is not None else None
    if deed:
        try:
            actions.correct_sheet(wrong, **deed, by=staff_of(request), as_of=today)
        except actions.SheetCorrectedBeforeError:
            messages.error(request, _("That sheet was corrected before. Correct the later one, if it is wrong too."))
            return redirect("pieces:piece", pk=one.pk)
        except actions.ImpossibleReadingsError as refused:
            form.say(refused.problems)
        else:
            messages.success(request, _("The sheet is corrected, and the due dates follow."))
            return redirect("pieces:piece", pk=one.pk)
    context = {"piece": one, "sheet": wrong, "form": form, "strike_form": strike_form}
    return render(request, "pieces/correct_sheet.html", context, status=422 if sent is not None else 200)


def _sheet_deed(
    form: SheetForm, strike_form: StrikeSheetForm, wrong: TimingSheet, *, strikes: bool
) -> dict[str, Any] | None:
    """What the action takes, or None where the form has faults, which it then shows."""
    if strikes:
        if not strike_form.is_valid():
            return None
        return {"readings": [], "taken_on": wrong.taken_on, "why": strike_form.cleaned_data["reason"]}
    if not form.is_valid():
        return None
    readings = form.corrected()
    if not readings:
        form.add_error(None, _("Every reading is empty. Strike the sheet out below, if it is of another piece."))
        return None
    return {"readings": readings, "taken_on": form.cleaned_data["taken_on"], "why": form.cleaned_data["why"]}


@require_http_methods(["GET", "HEAD", "POST"])
def hand_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Record the finished service and give the piece to its owner."""
    one, today = _piece(request, pk), timezone.localdate()
    if order := open_order_of(one):
        return redirect("bench:order", number=order.number)
    if request.method == "POST":
        form = HandBackForm(request.POST, piece=one, as_of=today)
        if form.is_valid():
            try:
                actions.hand_back(one, **form.deed(), at=timezone.now(), by=staff_of(request), as_of=today)
            except actions.FormUsedError:
                form.add_error(None, FORM_USED)
            except actions.HasOrderError as refused:
                return redirect("bench:order", number=str(refused))
            except actions.WithItsOwnerError:
                form.add_error(None, _("The owner has this piece already. Record the work in its history instead."))
            else:
                messages.success(request, _("The piece is with its owner, and its new interval has begun."))
                return redirect("pieces:piece", pk=one.pk)
    else:
        form = HandBackForm(piece=one, as_of=today)
    return render(request, "pieces/hand_back.html", {"piece": one, "form": form})
