"""Tests of tightness, and running times."""

from datetime import date
from decimal import Decimal
from typing import Any
from uuid import uuid4

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from service_center.bench.actions import Tested
from service_center.bench.wording import CONTROLS
from service_center.book.models import Piece
from service_center.measurements.actions import Decay
from service_center.measurements.readings_grid import decimal_or_none
from service_center.measurements.rules.reserve import reserve_verdict, unlikely_reserve
from service_center.measurements.rules.tightness import IN_AIR, PlannedTest
from service_center.pieces.forms import day_of_work

PASSED = [("yes", _("Passed")), ("no", _("Failed"))]


class NumberField(forms.CharField):
    """A number as people write it, between two bounds."""

    def __init__(self, *, low: int | str, high: int | str, decimals: int, **kwargs: Any) -> None:
        self.low, self.high, self.decimals = Decimal(low), Decimal(high), decimals
        widget = forms.TextInput(attrs={"inputmode": "decimal" if self.low >= 0 else "text", "autocomplete": "off"})
        super().__init__(max_length=12, widget=widget, **kwargs)

    def clean(self, value: Any) -> Decimal | None:
        number = decimal_or_none(super().clean(value))
        if number is None:
            return None
        if not self.low <= number <= self.high:
            raise forms.ValidationError(
                _("It lies between %(low)s and %(high)s."), params={"low": f"{self.low:f}", "high": f"{self.high:f}"}
            )
        return round(number, self.decimals)


class ResultForm(forms.Form):
    """One test. In air the numbers of the tester decide, or, where it shows none, whoever made it."""

    test = forms.CharField(widget=forms.HiddenInput)
    bar = NumberField(label=_("Overpressure (bar)"), low=-1, high=200, decimals=3, required=False)
    minutes = NumberField(label=_("Held for (minutes)"), low="0.05", high=6000, decimals=2, required=False)
    pressure_drop_mbar = NumberField(
        label=_("Pressure change (mbar)"),
        help_text=_("How far it went back to the room's: fell under pressure, rose under vacuum."),
        low=0, high=100000, decimals=4, required=False,
    )  # fmt: skip
    volume_ml = NumberField(label=_("Free volume (ml)"), low="0.01", high=100000, decimals=3, required=False)
    start_c = NumberField(label=_("Temperature at the start (°C)"), low=-20, high=90, decimals=2, required=False)
    end_c = NumberField(
        label=_("Temperature at the end (°C)"),
        help_text=_("A tenth of a degree can double an apparent leak."),
        low=-20, high=90, decimals=2, required=False,
    )  # fmt: skip
    passed = forms.ChoiceField(label=_("Result"), choices=PASSED, required=False, widget=forms.RadioSelect)
    remark = forms.CharField(label=_("Remark"), required=False, max_length=1000)

    def __init__(self, data: QueryDict | None = None, *, planned: PlannedTest, free_volume_ml: Decimal | None) -> None:
        initial = {
            "test": planned.test.value,
            "bar": "" if planned.bar is None else f"{planned.bar.normalize():f}",
            "minutes": "" if planned.minutes is None else f"{planned.minutes:f}",
            "volume_ml": "" if free_volume_ml is None else f"{free_volume_ml.normalize():f}",
        }
        super().__init__(data, initial=initial)
        self.planned = planned
        self.in_air = planned.test in IN_AIR
        if not self.in_air:
            for name in ("pressure_drop_mbar", "volume_ml", "start_c", "end_c"):
                del self.fields[name]
            self.fields["passed"].required = True
        if planned.bar is None:
            del self.fields["bar"]
        if planned.minutes is None:
            del self.fields["minutes"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if self.errors:
            return data
        bar, wanted = data.get("bar"), self.planned.bar
        if wanted is not None and bar is not None and (bar < wanted if wanted > 0 else bar > wanted):
            self.add_error(
                "bar", _("The plan asks for %(bar)s bar; less says nothing of it.") % {"bar": f"{wanted.normalize():f}"}
            )
        if self.in_air:
            self._clean_decay(data)
        return data

    def _clean_decay(self, data: dict[str, Any]) -> None:
        needed = ("pressure_drop_mbar", "volume_ml", "start_c")
        given = [name for name in needed if data.get(name) is not None]
        if data.get("pressure_drop_mbar") is not None and len(given) < len(needed):
            for name in needed:
                if name not in given:
                    self.add_error(name, _("A leak flow needs it."))
            if data.get("minutes") is None:
                self.add_error("minutes", _("A leak flow needs it."))
        elif data.get("pressure_drop_mbar") is None and not data.get("passed"):
            self.add_error("passed", _("Say whether it passed, or give the pressure change."))

    def tested(self) -> Tested:
        """The checked values, as `actions.add_result` takes them."""
        data = self.cleaned_data
        decay = None
        if data.get("pressure_drop_mbar") is not None:
            decay = Decay(data["pressure_drop_mbar"], data["volume_ml"], data["start_c"], data["end_c"])
        said = {"yes": True, "no": False}.get(data["passed"])
        return Tested(said, data.get("bar"), data.get("minutes"), decay, data["remark"])


class ReserveForm(forms.Form):
    """Running time from full wind to the stop, at one of three controls."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    control = forms.ChoiceField(label=_("At which control"), choices=list(CONTROLS.items()), widget=forms.RadioSelect)
    stopped_on = forms.DateField(
        label=_("Stopped on"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    hours = NumberField(label=_("It ran for (hours)"), low="0.01", high=2000, decimals=2)
    sure = forms.CharField(required=False, max_length=20)
    remark = forms.CharField(label=_("Remark"), required=False, max_length=1000)

    def __init__(self, data: QueryDict | None = None, *, piece: Piece, as_of: date) -> None:
        super().__init__(data, initial={"form_key": uuid4(), "stopped_on": as_of})
        calibre = piece.model.calibre if piece.model else None
        self.piece, self.as_of, self.nominal_h = piece, as_of, calibre.power_reserve_h if calibre else None
        self.fields["stopped_on"].widget.attrs["max"] = as_of.isoformat()
        self.question = ""

    def clean_stopped_on(self) -> date:
        return day_of_work(self.cleaned_data["stopped_on"], piece=self.piece, as_of=self.as_of)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        hours = data.get("hours")
        if hours is not None:
            reserve_verdict(hours, self.nominal_h)
            self.question = unlikely_reserve(hours, self.nominal_h)
            if self.question and data.get("sure") != str(hours):
                self.add_error("hours", _("That is unusual: look again, then confirm or correct it."))
        return data

    def deed(self) -> dict[str, Any]:
        """The checked values, as the action takes them."""
        return {name: self.cleaned_data[name] for name in ("form_key", "stopped_on", "hours", "remark")}
