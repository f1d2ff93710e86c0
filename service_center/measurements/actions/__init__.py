"""Keeping what was measured, and by what it is judged."""

from service_center.measurements.actions.calibres import set_judging
from service_center.measurements.actions.lift_angle import NoLiftAngleError, correct_lift_angle
from service_center.measurements.actions.machine_files import NameTakenError, drop_machine_file, keep_machine_file
from service_center.measurements.actions.reserve import record_reserve
from service_center.measurements.actions.sheets import (
    ImpossibleReadingsError,
    SheetCorrectedBeforeError,
    correct_sheet,
    record_sheet,
)
from service_center.measurements.actions.tightness import (
    Decay,
    NotRatedError,
    RunUnderWayError,
    add_result,
    begin_run,
    set_practice,
)

__all__ = [
    "Decay",
    "ImpossibleReadingsError",
    "NameTakenError",
    "NoLiftAngleError",
    "NotRatedError",
    "RunUnderWayError",
    "SheetCorrectedBeforeError",
    "add_result",
    "begin_run",
    "correct_lift_angle",
    "correct_sheet",
    "drop_machine_file",
    "keep_machine_file",
    "record_reserve",
    "record_sheet",
    "set_judging",
    "set_practice",
]
