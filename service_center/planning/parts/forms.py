"""How long an order should last, and writing down what was ordered."""

from datetime import date, timedelta
from typing import Any, cast
from uuid import uuid4

from django import forms
from django.utils.translation import gettext_lazy as _

from service_center.planning.parts.order_list import COVERS, USUAL_COVER, PartsList
from service_center.planning.rules.parts import ToOrder
from service_center.workshop.models import Part
from service_center.workshop.parts.ordered.rules import Line

MOST = 10_000
# Lines for parts that are not on the list.
EMPTY_LINES = 3


class CoverForm(forms.Form):
    """Weeks from delivery."""

    cover = forms.TypedChoiceField(choices=[(weeks, weeks) for weeks in COVERS], coerce=int)

    @classmethod
    def asked_for(cls, data: Any) -> int:
        """The weeks asked for, or the usual ones."""
        form = cls(data)
        return int(form.cleaned_data["cover"]) if form.is_valid() else USUAL_COVER


class OrderForm(forms.Form):
    """From whom, and when."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    supplier = forms.CharField(label=_("Ordered from"), max_length=200, required=False)
    reference = forms.CharField(label=_("Their reference"), max_length=64, required=False)
    ordered_on = forms.DateField(label=_("Ordered on"), widget=forms.DateInput(attrs={"type": "date"}))

    def __init__(self, data: Any = None, *, as_of: date) -> None:
        self.as_of = as_of
        super().__init__(data, initial={"form_key": uuid4(), "ordered_on": as_of.isoformat()})

    def clean_ordered_on(self) -> date:
        day: date = self.cleaned_data["ordered_on"]
        if day > self.as_of:
            raise forms.ValidationError(_("This day is still to come: write an order down once it was sent."))
        return day


class LineForm(forms.Form):
    """One part, how many, and when it is expected. A line that does not say how many is not ordered."""

    number = forms.CharField(
        label=_("Number of the part"), max_length=32, required=False,
        widget=forms.TextInput(attrs={"placeholder": _("Number of the part"), "autocomplete": "off"}),
    )  # fmt: skip
    quantity = forms.IntegerField(label=_("How many"), min_value=1, max_value=MOST, required=False)
    expected_on = forms.DateField(
        label=_("Expected on"), required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    part: Part | None = None

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if self.errors or data.get("quantity") is None:
            return data
        self.part = Part.objects.filter(number=data["number"].strip()).first()
        if self.part is None:
            self.add_error("number", _("No part has this number."))
        elif data.get("expected_on") is None:
            self.add_error("expected_on", _("When is it expected?"))
        return data


class BaseLines(forms.BaseFormSet):  # type: ignore[type-arg]  # Django's own takes no parameter at run time
    """The lines together: one at least, no part twice, nothing expected before it was ordered."""

    ordered_on: date | None = None

    def ordered(self) -> list[LineForm]:
        return [form for form in self.forms if form.part is not None]

    def clean(self) -> None:
        if any(form.errors for form in self.forms):
            return
        seen = set[int]()
        for form in self.ordered():
            assert form.part is not None
            if form.part.pk in seen:
                form.add_error("number", _("This part stands in the order twice."))
            if self.ordered_on and form.cleaned_data["expected_on"] < self.ordered_on:
                form.add_error("expected_on", _("It was not ordered yet on that day."))
            seen.add(form.part.pk)
        if not seen:
            raise forms.ValidationError(_("How many of which part? Nothing was kept."))

    def lines(self) -> list[Line]:
        return [
            Line(form.part.pk, form.cleaned_data["quantity"], form.cleaned_data["expected_on"])
            for form in self.ordered()
            if form.part
        ]


Lines = cast("type[BaseLines]", forms.formset_factory(LineForm, formset=BaseLines, extra=0))


def suggested(found: PartsList | None) -> dict[str, ToOrder]:
    """What the list would order of each part that it orders now or later, by the part's number."""
    return {row.part.number: row.order for row in [*found.now, *found.later]} if found else {}


def lines_to_order(found: PartsList | None, wanted: Part | None, as_of: date) -> list[dict[str, Any]]:
    """What the lines begin with: what to order now with its number, what to order later without one (it stands beside, `suggested`), and
    empty ones.

    `wanted`: a part that was asked for by name, ahead of all.
    """
    rows = {row.part.pk: row for row in [*found.now, *found.later]} if found else {}
    parts: list[Part] = [wanted] if wanted else []
    parts += [row.part for row in rows.values() if row.part != wanted]
    now = {row.part.pk for row in found.now} if found else set()
    begun = [
        {
            "number": part.number,
            "quantity": rows[part.pk].order.quantity if part.pk in now and wanted in (None, part) else None,
            "expected_on": (as_of + timedelta(days=part.delivery_days)).isoformat(),
        }
        for part in parts
    ]
    return begun + [{} for _line in range(EMPTY_LINES)]
