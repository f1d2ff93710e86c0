"""What is measured at the counter, where it can be."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from service_center.intake.actions import Sitting
from service_center.intake.drafts.dry_test import DryPart
from service_center.measurements.readings_form import BEAT_ERROR_CHOICES, GridForm
from service_center.measurements.rules.tightness import PlannedTest


class ReadingsForm(GridForm):
    """Readings, and a test in air by the piece's plan, where the boutique can take them; else the workshop does."""

    beat_error_is = forms.ChoiceField(
        label=_("Beat error as the machine shows it"), choices=BEAT_ERROR_CHOICES, required=False
    )

    def __init__(
        self,
        data: Any = None,
        *,
        initial: dict[str, Any],
        plan: Sequence[PlannedTest] = (),
        volume_ml: Decimal | None = None,
    ) -> None:
        super().__init__(data, initial=initial)
        self.dry = DryPart(self, plan, volume_ml)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        data["dry"] = self.dry.clean(data)
        return data

    def sitting(self) -> Sitting | None:
        data = self.cleaned_data
        readings = data["readings"]
        if not readings:
            return None
        return Sitting(readings, data["instrument"], data["lift_angle_deg"], data["beat_error_is"] == "whole")
