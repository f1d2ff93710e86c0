"""What is written down at the bench."""

from service_center.bench.forms.chronometer import SeriesForm
from service_center.bench.forms.house import JudgingForm, MachineFileForm, PracticeForm
from service_center.bench.forms.sheet import LiftAngleForm, SheetForm
from service_center.bench.forms.tests import ReserveForm, ResultForm

__all__ = [
    "JudgingForm",
    "LiftAngleForm",
    "MachineFileForm",
    "PracticeForm",
    "ReserveForm",
    "ResultForm",
    "SeriesForm",
    "SheetForm",
]
