"""What came of an order of parts, and what was heard of it."""

from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext_lazy as _

from service_center.workshop.parts.ordered.models import OrderedPart

MOST = 10_000


class ReceiveForm(forms.Form):
    """How many came."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    line = forms.ModelChoiceField(
        queryset=OrderedPart.objects.select_related("order", "part"), widget=forms.HiddenInput
    )
    quantity = forms.IntegerField(label=_("How many came"), min_value=1, max_value=MOST)


class TakeBackForm(forms.Form):
    """How many were written as come and did not."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    take_back = forms.IntegerField(label=_("How many did not come"), min_value=1, max_value=MOST)

    def __init__(self, data: Any = None) -> None:
        super().__init__(data, initial={"form_key": uuid4()}, auto_id="back-%s")  # another form stands beside it


class WordForm(forms.Form):
    """How many come in all, and when."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    quantity = forms.IntegerField(
        label=_("Ordered in all"), min_value=0, max_value=MOST,
        help_text=_("With what came already. Fewer where the supplier sends no more; 0 cancels the line."),
    )  # fmt: skip
    expected_on = forms.DateField(label=_("Expected on"), widget=forms.DateInput(attrs={"type": "date"}))
    why = forms.CharField(label=_("Why"), max_length=200, required=False)

    def __init__(self, data: Any = None, *, line: OrderedPart, quantity: int, expected_on: Any) -> None:
        self.ordered_on = line.order.ordered_on
        super().__init__(
            data, initial={"form_key": uuid4(), "quantity": quantity, "expected_on": expected_on.isoformat()}
        )

    def clean_expected_on(self) -> Any:
        day = self.cleaned_data["expected_on"]
        if day < self.ordered_on:
            raise forms.ValidationError(_("It was not ordered yet on that day."))
        return day
