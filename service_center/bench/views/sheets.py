"""A piece's timing sheets: the list, one sheet, two beside each other, a new one, a wrong lift angle."""

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from service_center.access.rules import WORK, may_open
from service_center.access.signed_in import staff_of
from service_center.bench import actions, pictures, queries
from service_center.bench.forms import LiftAngleForm, SheetForm
from service_center.bench.said import reserve_rows, verdict_rows
from service_center.bench.staff_said import run_rows, trend_pictures
from service_center.bench.views.piece import piece_of
from service_center.book.models import Piece
from service_center.measurements.actions import (
    ImpossibleReadingsError,
    NoLiftAngleError,
    SheetCorrectedBeforeError,
)
from service_center.measurements.grid_filling import CannotFillError, filled_from_file, filled_from_lines
from service_center.measurements.models import MachineFile, TimingSheet
from service_center.measurements.queries import judging_of, readings_of, reserves_of, runs_of
from service_center.measurements.rules import Wind
from service_center.measurements.rules.chronometer import answerable_from_a_sheet
from service_center.measurements.rules.files import LARGEST_FILE
from service_center.measurements.rules.limits import Judging
from service_center.workshop.orders.queries.listing import latest_order_of


@require_safe
def measurements(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything that was measured at one piece."""
    piece, staff = piece_of(request, pk), staff_of(request)
    sheets = queries.judged_sheets(piece)
    judging = judging_of(queries.calibre_of(piece))
    runs = runs_of(piece)
    context = {
        "piece": piece,
        "sheets": [(one, "–" if one.mean_rate is None else pictures.signed(one.mean_rate)) for one in sheets],
        "comparable": [one for one in sheets if one.readings],
        "trends": trend_pictures(sheets, runs, judging),
        "runs": run_rows(runs),
        "reserves": reserve_rows(reserves_of(piece)),
        "stays": [stay for stay in queries.stays_of(piece, sheets) if stay.after and stay.is_over],
        "works": staff.role in WORK,
        "sets_limits": may_open("bench:judging", staff.role),
        "rated": bool(piece.model and piece.model.rated_bar),
        "sold": piece.sold_on is not None,
    }
    return render(request, "bench/measurements.html", context)


def _sheet(piece: Piece, pk: int) -> TimingSheet:
    rows = TimingSheet.objects.filter(piece=piece).select_related("taken_by", "voids")
    return get_object_or_404(rows, pk=pk)


@require_safe
def sheet(request: HttpRequest, pk: int, sheet: int) -> HttpResponse:
    """One sheet: verdicts with the readings that decided them, pictures, the numbers."""
    piece = piece_of(request, pk)
    kept = _sheet(piece, sheet)
    return render(request, "bench/sheet.html", _sheet_context(request, piece, kept, LiftAngleForm()))


def _sheet_context(request: HttpRequest, piece: Piece, kept: TimingSheet, form: LiftAngleForm) -> dict[str, Any]:
    judging = judging_of(queries.calibre_of(piece))
    judged = queries.judge(kept, readings_of(kept), judging)
    order = latest_order_of(piece, staff_of(request))
    return {
        "piece": piece,
        "order": order if order and order.closed_on is None else None,
        "sheet": kept,
        "judged": judged,
        "verdicts": verdict_rows(judged.verdicts),
        "pictures": pictures.of_a_sheet(judged.readings, lowest=_lowest(judging)),
        "beside": pictures.beside(
            pictures.Named(_("Full wind"), judged.readings),
            pictures.Named(_("24 h later"), judged.readings, Wind.AFTER_24H),
        ),
        "is_read_later": any(one.wind is Wind.AFTER_24H for one in judged.readings),
        "criteria": answerable_from_a_sheet(),
        "correction": kept.corrections.first(),
        "lift_form": form,
        "works": staff_of(request).role in WORK,
    }


def _lowest(judging: Judging) -> Decimal | None:
    return judging.limits["lowest_vertical_amplitude"].low


@require_safe
def compare(request: HttpRequest, pk: int) -> HttpResponse:
    """Two sheets of a piece, the earlier one first, at full wind."""
    piece = piece_of(request, pk)
    chosen = [request.GET.get(name, "") for name in ("before", "after")]
    if not all(one.isascii() and one.isdigit() and len(one) < 16 for one in chosen):
        return redirect("bench:measurements", pk=piece.pk)
    kept = sorted((_sheet(piece, int(one)) for one in chosen), key=lambda one: (one.taken_on, one.pk))
    judging = judging_of(queries.calibre_of(piece))
    judged = [queries.judge(one, readings_of(one), judging) for one in kept]
    before, after = (pictures.Named(date_format(one.sheet.taken_on, "j M Y"), one.readings) for one in judged)
    context = {
        "piece": piece,
        "before": judged[0],
        "after": judged[1],
        "pictures": pictures.of_two_sheets(before, after, lowest=_lowest(judging)),
        "beside": pictures.beside(before, after),
        "verdicts": [
            (first, second) for first, second in zip(*(verdict_rows(one.verdicts) for one in judged), strict=True)
        ],
    }
    return render(request, "bench/compare.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def new_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """Readings by position: typed, pasted, or out of a machine's file; kept when they can be."""
    piece, today = piece_of(request, pk), timezone.localdate()
    judging = judging_of(queries.calibre_of(piece))
    known: dict[str, Any] = {"piece": piece, "judging": judging, "as_of": today}
    if request.method != "POST":
        return grid_page(request, piece, SheetForm(**known))
    if request.POST.get("fill"):
        return _fill(request, piece, known)
    form = SheetForm(request.POST, request.FILES, **known)
    if not form.is_valid():
        return grid_page(request, piece, form, status=422)
    kept = actions.record_sheet(
        piece, form.sitting(), form_key=form.cleaned_data["form_key"], by=staff_of(request), as_of=today
    )
    messages.success(request, _("The sheet is kept."))
    return redirect("bench:sheet", pk=kept.piece_id, sheet=kept.pk)


def _fill(request: HttpRequest, piece: Piece, known: dict[str, Any]) -> HttpResponse:
    """Put pasted lines or a machine's file into the grid and show it; nothing is kept yet, nothing typed is lost."""
    typed = {name: value for name, value in request.POST.items() if name not in {"fill", "csrfmiddlewaretoken"}}
    try:
        if request.POST["fill"] == "file":
            sent = request.FILES.get("file")
            content = sent.read(LARGEST_FILE + 1) if sent else None
            cells = filled_from_file(request.POST, (sent.name if sent else "") or "file", content)
        else:
            cells = filled_from_lines(request.POST)
    except CannotFillError as error:
        return grid_page(request, piece, SheetForm(**known, initial=typed), faults=error.reasons, status=422)
    return grid_page(request, piece, SheetForm(**known, initial={**typed, **cells, "pasted": ""}), filled=True)


def grid_page(
    request: HttpRequest,
    piece: Piece,
    form: SheetForm,
    *,
    faults: list[str] | None = None,
    filled: bool = False,
    action: str = "",
    status: int = 200,
) -> HttpResponse:
    """The whole grid; `action`: where it is sent to, if not to the address it was asked for at."""
    context = {
        "piece": piece,
        "form": form,
        "faults": faults,
        "filled": filled,
        "action": action,
        "has_machines": MachineFile.objects.exists(),
        "sets_up": may_open("bench:new_machine_file", staff_of(request).role),
    }
    return render(request, "bench/new_sheet.html", context, status=status)


@require_http_methods(["POST"])
def correct_lift_angle(request: HttpRequest, pk: int, sheet: int) -> HttpResponse:
    """The machine was set to a wrong lift angle: the sheet is written anew, the old one stays readable."""
    piece = piece_of(request, pk)
    kept = _sheet(piece, sheet)
    form = LiftAngleForm(request.POST)
    if form.is_valid():
        right, today = form.cleaned_data["right"], timezone.localdate()
        try:
            anew = actions.correct_lift_angle(kept, right=right, by=staff_of(request), as_of=today)
        except NoLiftAngleError:
            form.add_error("right", _("The sheet does not say what the machine was set to."))
        except SheetCorrectedBeforeError:
            form.add_error(None, _("That sheet was corrected before. Correct the later one, if it is wrong too."))
        except ImpossibleReadingsError as error:
            form.add_error("right", "; ".join(f"{one.position}: {one.reason}" for one in error.problems))
        else:
            messages.success(request, _("The amplitudes are written anew with the right lift angle."))
            return redirect("bench:sheet", pk=piece.pk, sheet=anew.pk)
    return render(request, "bench/sheet.html", _sheet_context(request, piece, kept, form), status=422)
