"""A timing sheet: the grid, and how the machine was set."""

from datetime import date
from decimal import Decimal
from typing import Any
from uuid import uuid4

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from service_center.bench.actions import Sitting
from service_center.book.models import Piece
from service_center.measurements.models import MachineFile
from service_center.measurements.readings_form import BEAT_ERROR_CHOICES, GridForm, lift_angle
from service_center.measurements.readings_grid import decimal_or_none
from service_center.measurements.rules import Wind
from service_center.measurements.rules.limits import Judging
from service_center.pieces.forms import day_of_work

WIND_CHOICES = [(Wind.FULL.value, _("full wind")), (Wind.AFTER_24H.value, _("24 h later"))]


class SheetForm(GridForm):
    """One sitting. Whatever is wrong, everything that was typed stays; what is unlikely is asked for once more."""

    field_order = ("form_key", "taken_on")

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    taken_on = forms.DateField(label=_("Taken on"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    temperature_c = forms.CharField(label=_("Temperature (°C)"), required=False, max_length=8)
    beat_error_is = forms.ChoiceField(label=_("Beat error as the machine shows it"), choices=BEAT_ERROR_CHOICES)
    remark = forms.CharField(
        label=_("Remark"), required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2})
    )
    pasted = forms.CharField(
        label=_("Lines from a spreadsheet"),
        help_text=_(
            "Position, rate, amplitude, beat error on each line; six lines without positions are the grid's own."
        ),
        required=False,
        widget=forms.Textarea(attrs={"rows": 4, "spellcheck": "false"}),
    )
    machine_file = forms.ModelChoiceField(
        label=_("Kind of file"), queryset=MachineFile.objects.order_by("name"), required=False, empty_label=None
    )
    file = forms.FileField(label=_("File from the timing machine"), required=False)
    fill_wind = forms.ChoiceField(label=_("They were read at"), choices=WIND_CHOICES, required=False)

    def __init__(
        self,
        data: QueryDict | None = None,
        files: Any = None,
        *,
        piece: Piece,
        judging: Judging,
        as_of: date,
        initial: dict[str, Any] | None = None,
    ) -> None:
        calibre = piece.model.calibre if piece.model else None
        angle = calibre.lift_angle_deg if calibre else None
        begun = {
            "form_key": uuid4(),
            "taken_on": as_of,
            "lift_angle_deg": "" if angle is None else f"{angle.normalize():f}",
            "beat_error_is": "half",
        }
        super().__init__(data, files, initial={**begun, **(initial or {})}, crown_at=judging.crown_at)
        self.piece, self.as_of = piece, as_of
        self.fields["taken_on"].widget.attrs["max"] = as_of.isoformat()

    def clean_taken_on(self) -> date:
        return day_of_work(self.cleaned_data["taken_on"], piece=self.piece, as_of=self.as_of)

    def clean_temperature_c(self) -> Decimal | None:
        value = decimal_or_none(self.cleaned_data["temperature_c"])
        if value is not None and not -20 <= value <= 80:
            raise forms.ValidationError(_("A bench's temperature lies between -20 and 80 °C."))
        return value if value is None else round(value, 1)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not data["readings"] and not self.grid.wrong():
            self.add_error(None, _("The grid is empty: a sheet needs at least one reading."))
        return data

    def sitting(self) -> Sitting:
        """The checked values, as `actions.record_sheet` takes them."""
        data = self.cleaned_data
        return Sitting(
            readings=data["readings"],
            taken_on=data["taken_on"],
            instrument=data["instrument"],
            lift_angle_deg=data["lift_angle_deg"],
            temperature_c=data["temperature_c"],
            whole_beat_error=data["beat_error_is"] == "whole",
            remark=data["remark"],
        )


class LiftAngleForm(forms.Form):
    """The lift angle the machine should have been set to."""

    right = forms.CharField(label=_("The right lift angle (degrees)"), max_length=8)

    def clean_right(self) -> Decimal:
        angle = lift_angle(self.cleaned_data["right"])
        if angle is None:
            raise forms.ValidationError(_("Write the angle in degrees."))
        return angle
