"""Testing a piece for tightness, dry before wet, and its running time."""

from decimal import Decimal
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from service_center.access.models import Staff
from service_center.access.signed_in import staff_of
from service_center.bench import actions
from service_center.bench.forms import ReserveForm, ResultForm
from service_center.bench.orders.queue_words import CAUTIONS_OF_WORK
from service_center.bench.said import plan_rows, reserve_rows
from service_center.bench.staff_said import run_rows
from service_center.bench.staff_words import CAUTIONS
from service_center.bench.views.piece import piece_of
from service_center.book.models import Piece
from service_center.measurements.actions import NotRatedError, RunUnderWayError, begin_run, record_reserve
from service_center.measurements.models import TightnessResult, TightnessRun
from service_center.measurements.queries import plan_of_run, practice, reserves_of, runs_of
from service_center.measurements.rules.reserve import Control
from service_center.measurements.rules.tightness import OutOfOrderError, PlannedTest, TightnessTest, next_test, plan_for
from service_center.workshop.orders.queries.listing import latest_order_of
from service_center.workshop.orders.rules.operations import Operation


@require_http_methods(["GET", "HEAD", "POST"])
def tightness(request: HttpRequest, pk: int) -> HttpResponse:
    """The plan of a piece, the run that is under way, its next test, and the runs before."""
    piece = piece_of(request, pk)
    if request.method == "POST" and request.POST.get("begin"):
        return _begin(request, piece)
    runs = runs_of(piece)
    planned = _next_of(runs)
    form = None
    if planned:
        run = runs[0][0]
        volume = practice().free_volume_ml
        form = ResultForm(request.POST if request.method == "POST" else None, planned=planned, free_volume_ml=volume)
        if request.method == "POST" and _keep(request, run, planned, form):
            return redirect("bench:tightness", pk=piece.pk)
    elif request.method == "POST":
        messages.error(request, _("That run is over. Begin a new one in air."))
        return redirect("bench:tightness", pk=piece.pk)
    return _page(request, piece, staff_of(request), runs, planned, form)


def _next_of(runs: list[tuple[TightnessRun, list[TightnessResult]]]) -> PlannedTest | None:
    """What the latest run waits for."""
    if not runs:
        return None
    run, results = runs[0]
    plan = plan_of_run(run)
    upcoming = next_test([one.test for one in plan], [(TightnessTest(one.test), one.passed) for one in results])
    return next((one for one in plan if one.test is upcoming), None)


def _begin(request: HttpRequest, piece: Piece) -> HttpResponse:
    try:
        key = UUID(request.POST.get("form_key", ""))
    except ValueError:
        key = uuid4()
    try:
        begin_run(piece, form_key=key, on=timezone.localdate(), by=staff_of(request))
    except NotRatedError:
        messages.error(request, _("The model has no pressure rating, so there is nothing to test it for."))
    except RunUnderWayError:
        messages.info(request, _("A run of this piece is under way; it goes on here."))
    return redirect("bench:tightness", pk=piece.pk)


def _keep(request: HttpRequest, run: TightnessRun, planned: PlannedTest, form: ResultForm) -> bool:
    """Keep the test that the form speaks of. False where the form has to be shown again."""
    if request.POST.get("test") != planned.test:
        messages.info(request, _("That test was kept already; the run has gone on."))
        return True
    if not form.is_valid():
        return False
    try:
        kept = actions.add_result(run, planned.test, form.tested(), by=staff_of(request), as_of=timezone.localdate())
    except OutOfOrderError as refused:
        form.add_error(None, str(refused))
        return False
    except ValueError as refused:
        form.add_error(None, str(refused))
        return False
    if kept.passed:
        messages.success(request, _("Passed, and kept."))
    else:
        messages.warning(request, _("Failed, and kept. The history and the due dates follow."))
    return True


def _page(
    request: HttpRequest,
    piece: Piece,
    staff: Staff,
    runs: list[tuple[TightnessRun, list[TightnessResult]]],
    planned: PlannedTest | None,
    form: ResultForm | None,
) -> HttpResponse:
    model = piece.model
    chosen = practice()
    plan: list[PlannedTest] = []
    if planned:
        plan = plan_of_run(runs[0][0])
    elif model and model.rated_bar:
        plan = plan_for(rated_bar=model.rated_bar, divers=bool(model.divers), practice=chosen)
    order = latest_order_of(piece, staff)
    context = {
        "piece": piece,
        "order": order if order and order.closed_on is None else None,
        "caution": CAUTIONS_OF_WORK[Operation.TIGHTNESS_TESTS] if planned and planned.bar else "",
        "plan": plan_rows(plan, runs[0][1] if planned else []),
        "planned": planned.test.value if planned else "",
        "form": form,
        "runs": run_rows(runs),
        "cautions": CAUTIONS,
        "rating": model.rated_bar if model else None,
        "divers": bool(model and model.divers),
        "marked": None if not model or model.rated_bar is None else (model.rated_bar * Decimal(10)),
        "form_key": uuid4(),
    }
    return render(request, "bench/tightness.html", context, status=422 if form and form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def reserve(request: HttpRequest, pk: int) -> HttpResponse:
    """Running time from full wind to the stop, its three controls apart."""
    piece, today = piece_of(request, pk), timezone.localdate()
    form = ReserveForm(request.POST if request.method == "POST" else None, piece=piece, as_of=today)
    if request.method == "POST" and form.is_valid():
        record_reserve(piece, Control(form.cleaned_data["control"]), **form.deed(), by=staff_of(request))
        messages.success(request, _("The running time is kept."))
        return redirect("bench:measurements", pk=piece.pk)
    context = {"piece": piece, "form": form, "reserves": reserve_rows(reserves_of(piece)), "nominal": form.nominal_h}
    return render(request, "bench/reserve.html", context, status=422 if form.errors else 200)
