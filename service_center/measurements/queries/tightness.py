"""Tests of a piece, and the house's practice."""

from service_center.book.models import Piece
from service_center.measurements.models import ReserveReading, TightnessPractice, TightnessResult, TightnessRun
from service_center.measurements.rules.tightness import HOUSE_PRACTICE, PlannedTest, Practice, TightnessTest, plan_for


def practice() -> Practice:
    """What the house chose for its tests. One statement."""
    kept = TightnessPractice.objects.filter(pk=1).first()
    return Practice(**{name: getattr(kept, name) for name in Practice.__dataclass_fields__}) if kept else HOUSE_PRACTICE


def plan_of_run(run: TightnessRun) -> list[PlannedTest]:
    """The plan under which a run was begun, whatever the house chose since."""
    chosen = Practice(
        every_piece_at_125=run.at_125, vacuum_first=run.vacuum_first, water_for_divers_alone=not run.water
    )
    return plan_for(rated_bar=run.rated_bar, divers=run.divers, practice=chosen)


def results_of(run: TightnessRun) -> list[TightnessResult]:
    """A run's tests in the order they were made. One statement."""
    return list(TightnessResult.objects.filter(run=run).select_related("made_by").order_by("pk"))


def runs_of(piece: Piece) -> list[tuple[TightnessRun, list[TightnessResult]]]:
    """A piece's runs, latest first, with their tests. Two statements."""
    runs = list(TightnessRun.objects.filter(piece=piece).select_related("begun_by").order_by("-pk"))
    results: dict[int, list[TightnessResult]] = {run.pk: [] for run in runs}
    for result in TightnessResult.objects.filter(run__in=runs).select_related("made_by").order_by("pk"):
        results[result.run_id].append(result)
    return [(run, results[run.pk]) for run in runs]


def reserves_of(piece: Piece) -> list[ReserveReading]:
    """A piece's running times, latest first. One statement."""
    return list(ReserveReading.objects.filter(piece=piece).select_related("taken_by").order_by("-stopped_on", "-pk"))


__all__ = ["TightnessTest", "plan_of_run", "practice", "reserves_of", "results_of", "runs_of"]
