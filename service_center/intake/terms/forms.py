"""The house's table as a form: days and price for each kind of work and each complexity."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.conf import settings
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from service_center.book.rules import Complexity
from service_center.intake import money
from service_center.intake.rules import Asked, UsualTerm
from service_center.intake.rules.terms import MOST_DAYS
from service_center.intake.terms.actions import version_of
from service_center.intake.terms.queries import Table
from service_center.intake.wording import ASKED

COMPLEXITIES: dict[Complexity, str | Promise] = {
    Complexity.SIMPLE: _("Simple"),
    Complexity.AUTOMATIC: _("Automatic"),
    Complexity.CHRONOGRAPH: _("Chronograph"),
    Complexity.COMPLICATED: _("Complicated"),
}


class PriceField(forms.CharField):
    """An amount in the house's currency; empty is no amount."""

    def clean(self, value: Any) -> Decimal | None:
        return money.amount_or_none(super().clean(value), settings.HOUSE_CURRENCY)


@dataclass(frozen=True, slots=True)
class Cell:
    """One line of the table in the form."""

    complexity: str | Promise
    days: forms.BoundField
    price: forms.BoundField


class TermsForm(forms.Form):
    """The whole table at once; `seen` is the version that was shown."""

    seen = forms.CharField(widget=forms.HiddenInput)

    def __init__(self, data: Any = None, *, terms: Table) -> None:
        super().__init__(data, initial={"seen": version_of(terms)})
        for (asked, complexity), term in terms.items():
            named = f"{ASKED[asked]}, {COMPLEXITIES[complexity]}"
            self.fields[f"{asked}-{complexity}-days"] = forms.IntegerField(
                label=f"{named}, {_('days')}",
                min_value=0,
                max_value=MOST_DAYS,
                initial=term.days,
                widget=forms.NumberInput(attrs={"inputmode": "numeric", "aria-label": f"{named}, {_('days')}"}),
            )
            self.fields[f"{asked}-{complexity}-price"] = PriceField(
                label=f"{named}, {_('price')}",
                required=False,
                max_length=20,
                initial=money.typed(term.price, settings.HOUSE_CURRENCY),
                widget=forms.TextInput(
                    attrs={"inputmode": "decimal", "autocomplete": "off", "aria-label": f"{named}, {_('price')}"}
                ),
            )

    def rows(self) -> Iterator[tuple[str | Promise, list[Cell]]]:
        """The table as it is drawn: a row for each kind of work."""
        for asked in Asked:
            yield (
                ASKED[asked],
                [
                    Cell(COMPLEXITIES[one], self[f"{asked}-{one}-days"], self[f"{asked}-{one}-price"])
                    for one in Complexity
                ],
            )

    def wrong(self) -> list[forms.BoundField]:
        """Cells with errors, in the order of the table."""
        return [self[name] for name in self.fields if name in self.errors and name != "seen"]

    def terms(self) -> Table:
        """What was typed."""
        data = self.cleaned_data
        return {
            (asked, one): UsualTerm(data[f"{asked}-{one}-days"], data[f"{asked}-{one}-price"])
            for asked in Asked
            for one in Complexity
        }
