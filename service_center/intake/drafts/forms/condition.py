"""The piece as it was handed over: each part, what was left with it, and the declared value."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from service_center.book.models import Boutique, Piece
from service_center.intake import money
from service_center.intake.rules import Condition, Grade, Money, PartNoted, parts_of
from service_center.intake.wording import GRADES, PARTS


@dataclass(frozen=True, slots=True)
class PartRow:
    """One part in the form."""

    name: Any
    grade: forms.BoundField
    remark: forms.BoundField


class ConditionForm(forms.Form):
    """Each part, what was left with the piece, and the declared value. One tap says that every part is as worn."""

    all_as_worn = forms.BooleanField(label=_("As worn, no marks to note"), required=False)
    left_with = forms.CharField(
        label=_("What was left with it"),
        help_text=_("Strap, box, guarantee card, spare links."),
        required=False,
        max_length=200,
    )
    declared_value = forms.CharField(
        label=_("Declared value"),
        help_text=_("What the owner says it is worth, for transport and safekeeping."),
        required=False,
        max_length=20,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    declared_currency = forms.ChoiceField(label=_("Currency"))

    def __init__(self, data: Any = None, *, initial: dict[str, Any], piece: Piece, boutique: Boutique) -> None:
        super().__init__(data, initial=initial)
        currencies = money.currencies(boutique.country)
        self.fields["declared_currency"].choices = [(one, one) for one in currencies]  # type: ignore[attr-defined]
        calibre = piece.model.calibre if piece.model else None
        self.parts = parts_of(calibre.complexity if calibre else "")
        for part in self.parts:
            self.fields[f"{part}-grade"] = forms.ChoiceField(
                label=str(PARTS[part]), choices=list(GRADES.items()), required=False, widget=forms.RadioSelect
            )
            self.fields[f"{part}-remark"] = forms.CharField(
                label=_("Remark"),
                required=False,
                max_length=200,
                widget=forms.TextInput(
                    attrs={"aria-label": f"{PARTS[part]}, {_('remark')}", "placeholder": _("Remark")}
                ),
            )

    def rows(self) -> Iterator[PartRow]:
        for part in self.parts:
            yield PartRow(PARTS[part], self[f"{part}-grade"], self[f"{part}-remark"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if not data.get("all_as_worn"):
            for part in self.parts:
                if not data.get(f"{part}-grade") and f"{part}-grade" not in self.errors:
                    self.add_error(f"{part}-grade", _("Say how it is, or tap “As worn” for all above."))
        self._clean_value(data)
        return data

    def _clean_value(self, data: dict[str, Any]) -> None:
        if "declared_currency" not in data:
            return
        try:
            amount = money.amount_or_none(data.get("declared_value", ""), data["declared_currency"])
        except forms.ValidationError as error:
            self.add_error("declared_value", error)
        else:
            data["declared"] = None if amount is None else Money(amount, data["declared_currency"])

    def condition(self) -> Condition:
        data = self.cleaned_data
        return Condition(
            tuple(
                PartNoted(part, Grade(data[f"{part}-grade"] or Grade.AS_WORN), data[f"{part}-remark"].strip())
                for part in self.parts
            )
        )
