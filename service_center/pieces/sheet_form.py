"""A timing sheet written anew: the same readings, each in a field of its own, with what was typed in them."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from service_center.book.models import Piece
from service_center.measurements.models import TimingSheet
from service_center.measurements.rules import Problem, Reading, Wind
from service_center.pieces import rules
from service_center.pieces.forms import DAY_REFUSED

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
        for reading in readings:
            for value, (label, places) in VALUES.items():
                name = _field(reading.position, reading.wind, value)
                read = getattr(reading, value)
                self.fields[name] = forms.DecimalField(
                    label=f"{reading.position} {WINDS[reading.wind]} {label}",
                    required=False,
                    max_digits=6,
                    decimal_places=places,
                    initial=None if read is None else round(read, places),
                )

    def clean_taken_on(self) -> date:
        day: date = self.cleaned_data["taken_on"]
        refused = rules.day_refused(day, made_on=self.piece.made_on, as_of=self.as_of)
        if refused:
            raise forms.ValidationError(DAY_REFUSED[refused])
        return day

    def rows(self) -> list[dict[str, Any]]:
        """Position and wind, with their bound fields, as the template lays them out."""
        return [
            {
                "position": reading.position,
                "wind": WINDS[reading.wind],
                "fields": [self[_field(reading.position, reading.wind, value)] for value in VALUES],
            }
            for reading in self.readings
        ]

    def corrected(self) -> list[Reading]:
        """The readings as typed; a row left empty is no reading."""
        found = []
        for reading in self.readings:
            typed = {value: self.cleaned_data[_field(reading.position, reading.wind, value)] for value in VALUES}
            if any(value is not None for value in typed.values()):
                found.append(Reading(reading.position, reading.wind, **typed))
        return found

    def say(self, problems: Sequence[Problem]) -> None:
        """Put what the rules refuse beside the fields it is about."""
        for one in problems:
            name = _field(one.position, Wind(one.wind), one.field)
            self.add_error(name if name in self.fields else None, one.reason)


def _field(position: str, wind: Wind, value: str) -> str:
    return f"{position}_{wind.value}_{value}"
