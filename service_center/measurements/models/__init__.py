"""What was measured, and by what it is judged."""

from service_center.measurements.models.calibres import CalibreJudging, CalibreLimit
from service_center.measurements.models.machine_file import MachineFile
from service_center.measurements.models.reserve import ReserveReading
from service_center.measurements.models.sheets import Reading, TimingSheet
from service_center.measurements.models.tightness import TightnessPractice, TightnessResult, TightnessRun

__all__ = [
    "CalibreJudging",
    "CalibreLimit",
    "MachineFile",
    "Reading",
    "ReserveReading",
    "TightnessPractice",
    "TightnessResult",
    "TightnessRun",
    "TimingSheet",
]
