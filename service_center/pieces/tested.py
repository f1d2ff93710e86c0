"""A test of tightness as somebody made it, with what follows for the piece's history."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db import transaction

from service_center.access.models import Staff
from service_center.book.models import Piece
from service_center.book.rules import DoneBy, EntryKind, Tightness
from service_center.measurements import actions as measurements
from service_center.measurements.models import TightnessResult, TightnessRun
from service_center.measurements.queries import plan_of_run, results_of
from service_center.measurements.rules.tightness import TightnessTest
from service_center.pieces.actions import record_entry


@dataclass(frozen=True, slots=True)
class Tested:
    """What a tester showed; `passed` may be left to the leak flow where there is a decay."""

    passed: bool | None
    bar: Decimal | None
    minutes: Decimal | None
    decay: measurements.Decay | None
    remark: str


@transaction.atomic
def add_result(run: TightnessRun, test: TightnessTest, tested: Tested, *, by: Staff, as_of: date) -> TightnessResult:
    """Keep one test. A failed one, and the last one passed, go into the history, from which the due dates follow.

    Raises OutOfOrderError and ValueError as `measurements.actions.add_result` does; nothing is written then.
    """
    piece = Piece.objects.select_for_update().get(pk=run.piece_id)
    result = measurements.add_result(
        run,
        test,
        on=as_of,
        by=by,
        passed=tested.passed,
        minutes=tested.minutes,
        bar=tested.bar,
        decay=tested.decay,
        remark=tested.remark,
    )
    planned = [one.test for one in plan_of_run(run)]
    if not result.passed or test is planned[-1]:
        record_entry(
            piece,
            done_on=as_of,
            kind=EntryKind.TIGHTNESS_CHECK,
            case_opened=False,
            tightness=Tightness.PASSED if result.passed else Tightness.FAILED,
            done_by=DoneBy.OWN,
            accepted=None,
            note=_note(run, results_of(run)),
            by=by,
            as_of=as_of,
            form_key=run.form_key,
        )
    return result


def _note(run: TightnessRun, results: Sequence[TightnessResult]) -> str:
    """The history's own words for a run: what was tested, and how it ended."""
    said = [
        f"{one.test.replace('_', ' ')}{f' {one.bar.normalize():f} bar' if one.bar is not None else ''}"
        for one in results
    ]
    ended = "passed" if results[-1].passed else f"failed at {results[-1].test.replace('_', ' ')}"
    return f"Tightness tests of a {run.rated_bar.normalize():f} bar piece: {', '.join(said)}; {ended}."
