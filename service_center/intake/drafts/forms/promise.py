"""The promised day, and the estimate."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from service_center.intake import money
from service_center.intake.rules import Estimate, Line, Price
from service_center.intake.wording import ASKED


@dataclass(frozen=True, slots=True)
class LineRow:
    """One line of the estimate in the form."""

    name: Any
    amount: forms.BoundField
    later: forms.BoundField
    covered: bool


class PromiseForm(forms.Form):
    """The promised day and the estimate. `usual` is the house's own for what is asked; what differs is the staff's.

    `quoted_on`: the day that had been worked out when the promise was made. `promised_for`: the work, and the
    boutique, that the page showed; a promise for another than `work` has to be made again.
    """

    promised_on = forms.DateField(
        label=_("Promised for"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    quoted_on = forms.DateField(required=False, widget=forms.HiddenInput)
    promised_for = forms.CharField(required=False, max_length=200, widget=forms.HiddenInput)

    def __init__(
        self, data: Any = None, *, initial: dict[str, Any], taken_on: date, usual: Estimate, work: str
    ) -> None:
        super().__init__(data, initial=initial)
        self.taken_on, self.usual, self.work = taken_on, usual, work
        self.fields["promised_on"].widget.attrs["min"] = taken_on.isoformat()
        for line in usual.lines:
            self.fields[f"{line.asked}-amount"] = forms.CharField(
                label=str(ASKED[line.asked]),
                required=False,
                max_length=20,
                widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            )
            self.fields[f"{line.asked}-later"] = forms.BooleanField(
                label=_("To be estimated after opening"), required=False
            )

    def rows(self) -> Iterator[LineRow]:
        for line in self.usual.lines:
            yield LineRow(
                ASKED[line.asked],
                self[f"{line.asked}-amount"],
                self[f"{line.asked}-later"],
                line.because is Price.GUARANTEE,
            )

    def clean_promised_on(self) -> date:
        day: date = self.cleaned_data["promised_on"]
        if day < self.taken_on:
            raise forms.ValidationError(_("That day is over."))
        if (day - self.taken_on).days > 800:
            raise forms.ValidationError(_("That is more than two years ahead."))
        return day

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        data["lines"] = tuple(line for one in self.usual.lines if (line := self._line(one, data)))
        if data.get("promised_for") != self.work and "promised_on" not in self.errors:
            self.add_error(
                "promised_on",
                _("What is asked, or where, has changed since this page was shown. Is this day still right?"),
            )
        return data

    def _line(self, usual: Line, data: dict[str, Any]) -> Line | None:
        name = f"{usual.asked}-amount"
        try:
            amount = money.amount_or_none(data.get(name, ""), self.usual.currency)
        except forms.ValidationError as error:
            self.add_error(name, error)
            return None
        later = bool(data.get(f"{usual.asked}-later"))
        if later == (amount is not None):
            self.add_error(name, _("Give an amount, or tick that it is estimated after opening: one of the two."))
            return None
        return usual if amount == usual.amount else Line(usual.asked, amount, Price.STAFF)

    def estimate(self) -> Estimate:
        return Estimate(self.usual.currency, self.cleaned_data["lines"])
