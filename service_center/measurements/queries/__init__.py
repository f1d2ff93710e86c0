"""Reading what was measured."""

from service_center.measurements.queries.calibres import judging_of, mapping_of
from service_center.measurements.queries.sheets import readings_as_read, readings_of, sheets_of
from service_center.measurements.queries.tightness import plan_of_run, practice, reserves_of, results_of, runs_of

__all__ = [
    "judging_of",
    "mapping_of",
    "plan_of_run",
    "practice",
    "readings_as_read",
    "readings_of",
    "reserves_of",
    "results_of",
    "runs_of",
    "sheets_of",
]
