"""Fifteen daily rates, as far as there are any."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from service_center.bench.forms.tests import NumberField
from service_center.measurements.rules.chronometer import DAYS, PROGRAMME, Size

SIZES = [
    (Size.OVER_20.value, gettext_lazy("over 20 mm")),
    (Size.UP_TO_20.value, gettext_lazy("up to 20 mm")),
]


class SeriesForm(forms.Form):
    """Rates in s/d by day; a day left empty was not read."""

    size = forms.ChoiceField(label=gettext_lazy("Diameter of the movement"), choices=SIZES, widget=forms.RadioSelect)

    def __init__(self, data: Any = None) -> None:
        super().__init__(data, initial={"size": Size.OVER_20.value})
        for day in DAYS:
            position, celsius = PROGRAMME[day]
            label = _("Day %(day)s: %(position)s, %(celsius)s °C") % {
                "day": day,
                "position": position,
                "celsius": celsius,
            }
            self.fields[f"g{day}"] = NumberField(label=label, low=-1000, high=1000, decimals=2, required=False)

    def days(self) -> list[forms.BoundField]:
        """The fifteen fields in their order."""
        return [self[f"g{day}"] for day in DAYS]

    def rates(self) -> dict[int, Decimal]:
        """What was given."""
        return {day: rate for day in DAYS if (rate := self.cleaned_data[f"g{day}"]) is not None}
