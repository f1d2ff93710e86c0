"""What was measured at an order's piece since it came in, and what it still lacks."""

from django.utils import timezone

from service_center.book.models import Calibre
from service_center.book.rules import EntryKind, Winding
from service_center.measurements.models import TimingSheet
from service_center.measurements.queries import judging_of, plan_of_run, readings_of, runs_of, sheets_of
from service_center.measurements.rules import Reading
from service_center.measurements.rules.limits import verdicts_on
from service_center.workshop.orders.models import OrderOperation, WorkOrder
from service_center.workshop.orders.rules.control import Measured, Missing, missing_for
from service_center.workshop.orders.rules.operations import OPENS_THE_CASE, Operation
from service_center.workshop.orders.rules.steps import Standing, Step


def case_opened(order: WorkOrder) -> bool:
    """Whether an operation that opens the case was finished. One statement."""
    return OrderOperation.objects.filter(
        order=order, operation__in=[one.value for one in OPENS_THE_CASE], finished_at__isnull=False
    ).exists()


def standing_of(order: WorkOrder) -> Standing:
    """What decides where an order may go. One statement."""
    return Standing(EntryKind(order.kind), Step(order.step), order.asks_owner, case_opened(order))


def unfinished_of(order: WorkOrder) -> list[Operation]:
    """The operations that are neither finished nor needless, in their order. One statement."""
    rows = OrderOperation.objects.filter(order=order, finished_at=None, unneeded="").order_by("position")
    return [Operation(one) for one in rows.values_list("operation", flat=True)]


def missing_of(order: WorkOrder) -> list[Missing]:
    """What the order lacks before its piece is ready. Nine statements at most."""
    piece = order.piece
    calibre = piece.model.calibre if piece.model else None
    opened = case_opened(order)
    return missing_for(
        EntryKind(order.kind),
        unfinished_of(order),
        measured_of(order),
        mechanical=calibre is not None and calibre.winding in (Winding.HAND, Winding.AUTOMATIC),
        rated=bool(piece.model and piece.model.rated_bar),
        case_opened=opened,
        declined=was_declined(order),
    )


def was_declined(order: WorkOrder) -> bool:
    """Whether the owner said no to the latest estimate. One statement."""
    latest = order.estimates.select_related("answer").order_by("-pk").first()
    return latest is not None and hasattr(latest, "answer") and not latest.answer.agreed


def measured_of(order: WorkOrder) -> Measured:
    """Readings and tests since the piece came in, beside those of its intake. Six statements."""
    piece = order.piece
    before = counting_sheet(order)
    after = sheet_after(order)
    judging = judging_of(_calibre_of(order))
    verdicts = verdicts_on(after[1], judging) if after else []
    return Measured(
        read_after=after is not None,
        positions_before=_positions(readings_of(before)) if before else (),
        positions_after=_positions(after[1]) if after else (),
        out_of_limits=[one.figure for one in verdicts if one.within is False],
        tight=_tight(order) if piece.model and piece.model.rated_bar else None,
    )


def sheet_after(order: WorkOrder) -> tuple[TimingSheet, list[Reading]] | None:
    """The latest sheet that counts and was taken since the piece last went to the bench. Two statements.

    Before the bench, whatever is read is read at intake, and stays so when it is typed or corrected later; a piece that
    the control sent back is read once more.
    """
    began = order.moves.filter(step=Step.ON_THE_BENCH.value).order_by("-pk").values_list("at", flat=True).first()
    if began is None:
        return None
    found = sheets_of(order.piece)
    by_key = {sheet.pk: sheet for sheet, _readings in found}
    corrected = {sheet.voids_id for sheet in by_key.values()}
    for sheet, readings in found:
        first = sheet
        while first.voids_id in by_key:
            first = by_key[first.voids_id]
        at_intake = first.pk == order.sheet_before_id or first.recorded_at < began
        at_intake = at_intake or first.taken_on < timezone.localdate(began)
        if readings and not at_intake and sheet.pk not in corrected:
            return sheet, readings
    return None


def counting_sheet(order: WorkOrder) -> TimingSheet | None:
    """The sheet of the intake, or the one that corrects it; one taken at the workshop before the bench counts as well."""
    sheet = order.sheet_before
    while sheet and (correction := sheet.corrections.first()):
        sheet = correction
    if sheet:
        return sheet
    began = order.moves.filter(step=Step.ON_THE_BENCH.value).order_by("pk").values_list("at", flat=True).first()
    since = TimingSheet.objects.filter(piece=order.piece, recorded_at__gte=order.opened_at, corrections=None)
    if began:
        since = since.filter(recorded_at__lt=began)
    return since.filter(readings__isnull=False).order_by("pk").distinct().first()


def _positions(readings: list[Reading]) -> list[tuple[str, str]]:
    return [(one.position, one.wind.value) for one in readings]


def _calibre_of(order: WorkOrder) -> Calibre | None:
    return order.piece.model.calibre if order.piece.model else None


def _tight(order: WorkOrder) -> bool | None:
    """How the tests ended that were made since the case was last opened here, or since the piece came in.

    None while a run is under way, or none was begun.
    """
    opening = (
        OrderOperation.objects.filter(order=order, operation__in=[one.value for one in OPENS_THE_CASE])
        .exclude(finished_at=None)
        .order_by("-finished_at")
        .values_list("finished_at", flat=True)
        .first()
    )
    since = opening or order.opened_at
    for run, results in runs_of(order.piece):
        if not results or results[-1].recorded_at < since:
            return None
        if not results[-1].passed:
            return False
        # A pass in air from before the case was opened proves nothing: every test of the run is made since then.
        whole = len([one for one in results if one.passed]) == len(plan_of_run(run))
        return True if whole and run.recorded_at >= (opening or run.recorded_at) else None
    return None
