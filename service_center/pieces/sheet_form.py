"""A timing sheet written anew: the same readings, each in a field of its own, with what was typed in them."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from service_center.book.models import Piece
from service_center.measurements.models import TimingSheet
from service_center.measurements.rules import POSITIONS, Problem, Reading, Wind
from service_center.pieces.forms import StrikeForm, day_of_work

VALUES = {
    "rate": (_("Rate (s/d)"), 1),
    "amplitude": (_("Amplitude (°)"), 0),
    "beat_error": (_("Beat error (ms)"), 2),
}
WINDS = {Wind.FULL: _("full wind"), Wind.AFTER_24H: _("24 h later"), Wind.END: _("end of the reserve")}


class SheetForm(forms.Form):
    """The sheet as it should have been. `as_of` is today: later days are refused."""

    why = forms.CharField(label=_("Why it is corrected"), max_length=2000, widget=forms.Textarea(attrs={"rows": 2}))
    taken_on = forms.DateField(label=_("Taken on"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))

    def __init__(
        self,
        data: QueryDict | None = None,
        *,
        piece: Piece,
        sheet: TimingSheet,
        readings: Sequence[Reading],
        as_of: date,
    ) -> None:
        super().__init__(data, initial={"taken_on": sheet.taken_on})
        self.piece, self.readings, self.as_of = piece, readings, as_of
        self.fields["taken_on"].widget.attrs["max"] = as_of.isoformat()
        for row, reading in enumerate(readings):
            self.fields[_name(row, "position")] = forms.ChoiceField(
                label=_row_label(row, _("Position")),
                choices=[(one, one) for one in POSITIONS],
                initial=reading.position,
            )
            for value, (label, places) in VALUES.items():
                read = getattr(reading, value)
                self.fields[_name(row, value)] = forms.DecimalField(
                    label=_row_label(row, label),
                    required=False,
                    max_digits=6,
                    decimal_places=places,
                    initial=None if read is None else round(read, places),
                )

    def clean_taken_on(self) -> date:
        return day_of_work(self.cleaned_data["taken_on"], piece=self.piece, as_of=self.as_of)

    def rows(self) -> list[dict[str, Any]]:
        """Each reading's wind state, with its bound fields, as the template lays them out."""
        return [
            {"wind": WINDS[reading.wind], "fields": [self[_name(row, value)] for value in ("position", *VALUES)]}
            for row, reading in enumerate(self.readings)
        ]

    def corrected(self) -> list[Reading]:
        """The readings as typed; a row left empty is no reading."""
        found = []
        for row in self._filled():
            typed = {value: self.cleaned_data[_name(row, value)] for value in VALUES}
            found.append(Reading(self.cleaned_data[_name(row, "position")], self.readings[row].wind, **typed))
        return found

    def say(self, problems: Sequence[Problem]) -> None:
        """Put what the rules refuse beside the fields it is about."""
        filled = self._filled()
        for one in problems:
            self.add_error(_name(filled[one.row], one.field), one.reason)

    def _filled(self) -> list[int]:
        return [
            row
            for row in range(len(self.readings))
            if any(self.cleaned_data.get(_name(row, value)) is not None for value in VALUES)
        ]


class StrikeSheetForm(StrikeForm):
    """Why a sheet does not belong to the piece."""

    def __init__(self, data: QueryDict | None = None) -> None:
        super().__init__(data)
        self.fields["reason"].label = _("Why it is not of this piece")


def _name(row: int, value: str) -> str:
    return f"row{row}_{value}"


def _row_label(row: int, label: str | Promise) -> str:
    """What a screen reader says of a cell; the heads of the columns say it to everybody else."""
    return _("Reading %(number)s: %(what)s") % {"number": row + 1, "what": label}
