"""A part, and what moved its stock."""

from collections.abc import Sequence
from typing import Any, cast
from uuid import uuid4

from django import forms
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from service_center.book.models import Calibre, WatchModel
from service_center.workshop.parts.models import Part
from service_center.workshop.parts.ordered.models import OnOrder, OrderedPart
from service_center.workshop.parts.rules import PartSort, StockReason
from service_center.workshop.parts.words import SORTS

MOST = 10_000


class PartForm(forms.Form):
    """What a part is, what it fits, and how it is ordered."""

    number = forms.CharField(label=_("Number"), max_length=32)
    name = forms.CharField(label=_("Name"), max_length=200)
    sort = forms.ChoiceField(label=_("Sort"), choices=[(one.value, SORTS[one]) for one in PartSort])
    calibre = forms.ModelChoiceField(
        label=_("Fits the calibre"), queryset=Calibre.objects.order_by("code"), required=False, empty_label=_("any")
    )
    reference = forms.CharField(
        label=_("Or fits the model with the reference"), max_length=64, required=False,
        help_text=_("Leave both empty for a part that fits whatever it is taken for."),
    )  # fmt: skip
    pack = forms.IntegerField(label=_("Ordered in packs of"), min_value=1, max_value=MOST, initial=1)
    delivery_days = forms.IntegerField(
        label=_("Days from order to shelf"), min_value=0, max_value=730, initial=14
    )  # fmt: skip
    in_use = forms.BooleanField(label=_("Still used"), required=False, initial=True)

    def __init__(self, data: Any = None, *, part: Part | None = None) -> None:
        super().__init__(data, initial=_begun(part) if part else None)

    def clean_reference(self) -> WatchModel | None:
        reference = self.cleaned_data["reference"].strip()
        if not reference:
            return None
        found = WatchModel.objects.filter(reference=reference).first()
        if found is None:
            raise forms.ValidationError(_("The book has no model with this reference."))
        return found

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("calibre") and data.get("reference"):
            self.add_error("reference", _("A part fits a calibre or a model: choose one of them."))
        return data

    def deed(self) -> dict[str, Any]:
        """What `actions.keep_part` takes."""
        data = self.cleaned_data
        return {
            "number": data["number"],
            "name": data["name"],
            "sort": PartSort(data["sort"]),
            "calibre": data["calibre"],
            "model": data["reference"],
            "pack": data["pack"],
            "delivery_days": data["delivery_days"],
            "in_use": data["in_use"],
        }


def _begun(part: Part) -> dict[str, Any]:
    return {
        "number": part.number,
        "name": part.name,
        "sort": part.sort,
        "calibre": part.calibre,
        "reference": part.model.reference if part.model else "",
        "pack": part.pack,
        "delivery_days": part.delivery_days,
        "in_use": part.in_use,
    }


OF_LINE = "line:"


class StockForm(forms.Form):
    """What came, what spoilt, or what a count found. `awaited`: what is on order, of which a delivery may be a part."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    reason = forms.ChoiceField(label=_("What happened"), widget=forms.RadioSelect)
    quantity = forms.IntegerField(label=_("How many"), min_value=0, max_value=MOST)

    def __init__(self, data: Any = None, *, awaited: Sequence[OnOrder] = ()) -> None:
        self.awaited = {one.line_id: one.line for one in awaited}
        choices = [
            (
                f"{OF_LINE}{one.line_id}",
                _("delivered, of %(order)s: %(n)s to come, expected on %(day)s")
                % {"order": one.line.order.number, "n": one.quantity, "day": date_format(one.expected_on, "j M Y")},
            )
            for one in awaited
        ] + [
            (StockReason.DELIVERED.value, _("delivered without an order") if awaited else _("delivered")),
            (StockReason.COUNTED.value, _("counted: so many lie there")),
            (StockReason.SPOILT.value, _("spoilt")),
        ]
        super().__init__(data, initial={"form_key": uuid4(), "reason": choices[0][0]})
        cast("forms.ChoiceField", self.fields["reason"]).choices = choices

    @property
    def line(self) -> OrderedPart | None:
        """The line of an order that the delivery is part of."""
        reason = str(self.cleaned_data["reason"])
        return self.awaited[int(reason.removeprefix(OF_LINE))] if reason.startswith(OF_LINE) else None

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("quantity") == 0 and data.get("reason") != StockReason.COUNTED:
            self.add_error("quantity", _("At least one; only a count can find none."))
        return data
