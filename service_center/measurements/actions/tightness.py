"""Keeping tightness tests as they are made, in their order."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.models import Piece
from service_center.measurements.models import TightnessPractice, TightnessResult, TightnessRun
from service_center.measurements.queries import plan_of_run, practice, results_of
from service_center.measurements.rules.tightness import (
    LIMIT_UG_A_MINUTE,
    OutOfOrderError,
    Practice,
    TightnessTest,
    decay_flow,
    next_test,
    plan_for,
)


class NotRatedError(ValueError):
    """The piece's model has no pressure rating, so that there is nothing to test it for."""


class RunUnderWayError(ValueError):
    """A run of the piece waits for its next test."""


@dataclass(frozen=True, slots=True)
class Decay:
    """What a dry tester showed: fall of the pressure, free volume, and the temperatures where they were read."""

    pressure_drop_mbar: Decimal
    volume_ml: Decimal
    start_c: Decimal
    end_c: Decimal | None = None


@transaction.atomic
def begin_run(piece: Piece, *, form_key: UUID, on: date, by: Staff | None) -> TightnessRun:
    """Begin the tests of a piece under the house's practice of the day. The same form twice is one run.

    Raises NotRatedError, and RunUnderWayError where another run is not over.
    """
    locked = Piece.objects.select_for_update().select_related(None).get(pk=piece.pk)
    before = TightnessRun.objects.filter(form_key=form_key).first()
    if before:
        return before
    model = piece.model
    if model is None or not model.rated_bar:
        raise NotRatedError(piece.serial)
    last = TightnessRun.objects.filter(piece=locked).order_by("-pk").first()
    if last and is_under_way(last):
        raise RunUnderWayError(str(last.pk))
    chosen = practice()
    divers = bool(model.divers)
    tests = [one.test for one in plan_for(rated_bar=model.rated_bar, divers=divers, practice=chosen)]
    return TightnessRun.objects.create(
        form_key=form_key,
        piece=locked,
        begun_on=on,
        begun_by=by,
        rated_bar=model.rated_bar,
        divers=divers,
        at_125=divers or chosen.every_piece_at_125,
        vacuum_first=TightnessTest.DRY_VACUUM in tests,
        water=TightnessTest.WATER in tests,
    )


@transaction.atomic
def add_result(
    run: TightnessRun,
    test: TightnessTest,
    *,
    on: date,
    by: Staff | None,
    passed: bool | None,
    minutes: Decimal | None = None,
    bar: Decimal | None = None,
    decay: Decay | None = None,
    remark: str = "",
) -> TightnessResult:
    """Keep one test. With a `decay` the leak flow decides whether it passed; without, `passed` says it.

    Raises OutOfOrderError where the tests before it do not allow it (WetBeforeDryError for water), ValueError for
    values that cannot be, or where nothing says whether it passed. Nothing is kept then.
    """
    locked = TightnessRun.objects.select_for_update().get(pk=run.pk)
    plan = plan_of_run(locked)
    before = [(TightnessTest(one.test), one.passed) for one in results_of(locked)]
    next_test([one.test for one in plan], [*before, (test, True)])
    flow = None
    if decay is not None:
        if minutes is None:
            raise ValueError("a leak flow needs the minutes it was watched")
        planned = next(one for one in plan if one.test is test)
        flow = decay_flow(
            pressure_drop_mbar=float(decay.pressure_drop_mbar),
            overpressure_bar=float(bar if bar is not None else planned.bar or 0),
            volume_ml=float(decay.volume_ml),
            minutes=float(minutes),
            start_c=float(decay.start_c),
            end_c=None if decay.end_c is None else float(decay.end_c),
        )
        passed = abs(flow) <= LIMIT_UG_A_MINUTE and passed is not False
    if passed is None:
        raise ValueError(f"{test} needs a result: passed or failed")
    result = TightnessResult.objects.create(
        run=locked,
        test=test.value,
        made_on=on,
        made_by=by,
        bar=bar,
        minutes=minutes,
        pressure_drop_mbar=decay.pressure_drop_mbar if decay else None,
        volume_ml=decay.volume_ml if decay else None,
        start_c=decay.start_c if decay else None,
        end_c=decay.end_c if decay else None,
        micrograms_a_minute=None if flow is None else Decimal(f"{flow:.4f}"),
        passed=passed,
        remark=remark,
    )
    leave_trail(
        by=by, deed="tightness_result", subject=f"tightness_run:{run.pk}", after={"test": test.value, "passed": passed}
    )
    return result


def is_under_way(run: TightnessRun) -> bool:
    """Whether a run waits for a test. Two statements."""
    return upcoming(run) is not None


def upcoming(run: TightnessRun) -> TightnessTest | None:
    """The run's next test, or None where it is over. One statement."""
    done = [(TightnessTest(one.test), one.passed) for one in results_of(run)]
    return next_test([one.test for one in plan_of_run(run)], done)


@transaction.atomic
def set_practice(chosen: Practice, *, by: Staff | None) -> None:
    """Keep the house's choices for tests; runs that are under way keep those they began with."""
    before = practice()
    TightnessPractice.objects.update_or_create(pk=1, defaults=_plain(chosen))
    leave_trail(
        by=by, deed="set_tightness_practice", subject="house:tightness", before=_said(before), after=_said(chosen)
    )


def _plain(chosen: Practice) -> dict[str, object]:
    return {name: getattr(chosen, name) for name in Practice.__dataclass_fields__}


def _said(chosen: Practice) -> dict[str, object]:
    return {name: str(value) if isinstance(value, Decimal) else value for name, value in _plain(chosen).items()}


__all__ = [
    "Decay",
    "NotRatedError",
    "OutOfOrderError",
    "RunUnderWayError",
    "add_result",
    "begin_run",
    "is_under_way",
    "set_practice",
    "upcoming",
]
