"""By what a calibre's sheets are judged, and how a machine's files are read."""

from service_center.book.models import Calibre
from service_center.measurements import models
from service_center.measurements.rules.limits import HOUSE_JUDGING, HOUSE_LIMITS, Judging, Range
from service_center.measurements.rules.machine_file import FileMapping


def judging_of(calibre: Calibre | None) -> Judging:
    """The house's limits, and a calibre's own where it has any; its positions and crown. Two statements."""
    if calibre is None:
        return HOUSE_JUDGING
    own = models.CalibreLimit.objects.filter(calibre=calibre)
    limits = {**HOUSE_LIMITS, **{row.figure: Range(row.low, row.high) for row in own}}
    judged = models.CalibreJudging.objects.filter(calibre=calibre).first()
    if judged is None:
        return Judging(limits)
    return Judging(limits, tuple(judged.positions.split()), judged.crown_at)


def mapping_of(kept: models.MachineFile) -> FileMapping:
    """A kept mapping as the rules take it."""
    return FileMapping(**{name: getattr(kept, name) for name in FileMapping.__dataclass_fields__})
