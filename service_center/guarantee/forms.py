"""Deciding who pays for a finding, and the house's own months and table."""

from datetime import date
from typing import Any
from uuid import uuid4

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from service_center.guarantee.finding_words import names
from service_center.guarantee.rules import Finding, Row, Table, Terms

OTHERWISE = {"": None, "yes": True, "no": False}


class DecideForm(forms.Form):
    """One finding: as the table says, or otherwise with a reason."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    reported_on = forms.DateField(widget=forms.HiddenInput)
    finding = forms.ChoiceField(label=gettext_lazy("What was found"))
    order = forms.CharField(label=gettext_lazy("Number of the drop-off or order"), required=False, max_length=32)
    covered = forms.ChoiceField(
        label=gettext_lazy("Who pays"),
        choices=[
            ("", gettext_lazy("As the table says")),
            ("yes", gettext_lazy("Otherwise: we cover it")),
            ("no", gettext_lazy("Otherwise: the owner pays")),
        ],
        required=False,
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label=gettext_lazy("Reason"),
        help_text=gettext_lazy("Needed where you decide otherwise than the table. It is kept."),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, data: QueryDict | None = None, *, reported_on: date) -> None:
        super().__init__(data, initial={"form_key": uuid4(), "reported_on": reported_on, "covered": ""})
        self.fields["finding"].choices = [(one.value, name) for one, name in names().items()]  # type: ignore[attr-defined]

    def deed(self) -> dict[str, Any]:
        """The checked values, as the action takes them."""
        data = self.cleaned_data
        return {
            "form_key": data["form_key"],
            "reported_on": data["reported_on"],
            "covered": OTHERWISE[data["covered"]],
            "reason": data["reason"],
            "order": data["order"],
        }


class TermsForm(forms.Form):
    """Months from the day of sale or of work."""

    from_on = forms.DateField(
        label=gettext_lazy("For what is sold or done from"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    base_months = forms.IntegerField(label=gettext_lazy("Guarantee, months from the sale"), min_value=1, max_value=600)
    extended_months = forms.IntegerField(
        label=gettext_lazy("With the extension, months from the sale"), min_value=1, max_value=600
    )
    work_months = forms.IntegerField(label=gettext_lazy("On our own work, months"), min_value=0, max_value=600)
    check_months = forms.IntegerField(
        label=gettext_lazy("To keep the extension, a passed tightness check every so many months"),
        help_text=gettext_lazy("Empty: no check is asked for. Rated models alone."),
        required=False,
        min_value=1,
        max_value=120,
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        base, extended = data.get("base_months"), data.get("extended_months")
        if base and extended and extended < base:
            self.add_error(
                "extended_months", _("The extension counts from the sale too: it cannot be the shorter one.")
            )
        return data

    def terms(self) -> Terms:
        """The checked values."""
        return Terms(**{name: self.cleaned_data[name] for name in Terms.__dataclass_fields__})


class TableForm(forms.Form):
    """The house's table of findings."""

    def __init__(self, data: QueryDict | None = None, *, table: Table) -> None:
        super().__init__(data)
        for finding, name in names().items():
            row = table[finding]
            for guarantee, label in (
                ("base", _("base guarantee")),
                ("extension", _("extension")),
                ("work", _("guarantee on our work")),
            ):
                self.fields[f"{finding}-{guarantee}"] = forms.BooleanField(
                    label=f"{name}: {label}", initial=getattr(row, guarantee), required=False
                )
            self.fields[f"{finding}-reason"] = forms.CharField(
                label=f"{name}: {_('reason')}", initial=row.reason, required=False, max_length=500
            )

    def rows(self) -> list[dict[str, Any]]:
        """One finding a row, as the template lays them out."""
        return [
            {
                "name": name,
                "ticks": [self[f"{finding}-{guarantee}"] for guarantee in ("base", "extension", "work")],
                "reason": self[f"{finding}-reason"],
            }
            for finding, name in names().items()
        ]

    def table(self) -> dict[Finding, Row]:
        """The checked values."""
        data = self.cleaned_data
        return {
            finding: Row(
                data[f"{finding}-base"],
                data[f"{finding}-extension"],
                data[f"{finding}-work"],
                data[f"{finding}-reason"].strip(),
            )
            for finding in Finding
        }
