"""A form with a grid of readings, wherever one is filled in: at the counter and at the bench.

What is impossible stands as an error at its cell; what is unlikely is asked for once more, and taken when confirmed.
"""

from decimal import Decimal
from hashlib import sha256
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from service_center.measurements.readings_grid import Grid, add_grid_fields, decimal_or_none
from service_center.measurements.rules import Problem, Reading, impossible, unlikely

BEAT_ERROR_CHOICES = [("half", _("half the difference")), ("whole", _("the whole difference"))]


def lift_angle(text: str) -> Decimal | None:
    """A lift angle as people write it. ValidationError outside 20 to 90 degrees."""
    angle = decimal_or_none(text)
    if angle is not None and not 20 <= angle <= 90:
        raise forms.ValidationError(_("A lift angle lies between 20 and 90 degrees."))
    return angle


class GridForm(forms.Form):
    """The grid, how the machine was set, and the second look. `measurements/questions.html` asks for that look."""

    instrument = forms.CharField(label=_("Timing machine"), required=False, max_length=100)
    lift_angle_deg = forms.CharField(label=_("Lift angle it was set to (degrees)"), required=False, max_length=8)
    looked_again = forms.CharField(required=False, max_length=64)

    def __init__(self, *args: Any, crown_at: int = 3, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.grid: Grid = add_grid_fields(self, crown_at=crown_at)
        self.questions: list[Problem] = []
        self.confirmed = False

    def clean_lift_angle_deg(self) -> Decimal | None:
        return lift_angle(self.cleaned_data["lift_angle_deg"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        readings: list[Reading] = self.grid.readings(data)
        problems = impossible(readings)
        for problem in problems:
            self.add_error(self.grid.field_name(problem), problem.reason)
        self.questions = self.grid.questions = [] if problems else unlikely(readings)
        data["readings"] = readings
        self.confirmed = data.get("looked_again") == self.questioned()
        if self.questions and not self.confirmed:
            self.add_error(None, _("Some readings are unusual. Look at them again, then confirm or correct them."))
        return data

    def questioned(self) -> str:
        """What a confirmation speaks of: other values ask anew."""
        return sha256(repr(self.cleaned_data["readings"]).encode()).hexdigest()
