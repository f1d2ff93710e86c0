"""Two ways to fill the grid of readings without typing: lines from a spreadsheet, and a file from a timing machine."""

from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from service_center.measurements.models import MachineFile
from service_center.measurements.queries import mapping_of
from service_center.measurements.readings_grid import Grid, cells_of
from service_center.measurements.rules import Wind
from service_center.measurements.rules.files import BadFileError
from service_center.measurements.rules.machine_file import readings_in
from service_center.measurements.rules.pasted import UnreadableLineError, rows_in


class CannotFillError(ValueError):
    """The lines or the file fill no grid; each reason in words."""

    def __init__(self, reasons: list[str]) -> None:
        self.reasons = reasons
        super().__init__("; ".join(reasons))


def filled_from_lines(data: QueryDict) -> dict[str, str]:
    """The grid's cells that pasted lines fill. Raises CannotFillError."""
    try:
        rows = rows_in(data.get("pasted", ""), _wind(data))
    except UnreadableLineError as error:
        raise CannotFillError([str(error)]) from error
    if not rows:
        raise CannotFillError([str(_("There are no lines with readings."))])
    columns = ("rate", "amplitude", "beat_error")
    return {
        Grid.name(row.wind, row.position, column): cell
        for row in rows
        for column, cell in zip(columns, row.cells, strict=False)
        if cell
    }


def filled_from_file(data: QueryDict, name: str, content: bytes | None) -> dict[str, str]:
    """The grid's cells, and the machine's beat-error definition, that an uploaded file fills. Raises CannotFillError."""
    chosen = data.get("machine_file", "")
    kept = MachineFile.objects.filter(pk=int(chosen)).first() if chosen.isascii() and chosen.isdigit() else None
    if kept is None:
        raise CannotFillError([str(_("Choose which kind of file it is; the desk sets them up."))])
    if content is None:
        raise CannotFillError([str(_("No file was sent."))])
    try:
        readings = readings_in(content, name[:80], mapping_of(kept), wind=_wind(data))
    except BadFileError as bad:
        raise CannotFillError([str(fault) for fault in bad.faults[:12]]) from bad
    definition = {"beat_error_is": "whole" if kept.whole_beat_error else "half", "instrument": kept.name}
    return {**cells_of(readings), **definition}


def _wind(data: QueryDict) -> Wind:
    return Wind.AFTER_24H if data.get("fill_wind") == Wind.AFTER_24H else Wind.FULL
