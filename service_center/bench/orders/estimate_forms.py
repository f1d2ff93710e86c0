"""The estimate as the desk writes it: its lines, and until when it holds."""

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l

from service_center.bench.orders.estimate_paper import lines_of
from service_center.bench.orders.page import finding_rows
from service_center.bench.wording import WORK_DONE
from service_center.book.wording import FALLBACK, language_of
from service_center.intake import money
from service_center.intake.models import DropOff
from service_center.intake.rules import Estimate
from service_center.intake.wording import ASKED
from service_center.workshop.orders.actions import EstimateLine
from service_center.workshop.orders.models import WorkOrder

MOST_LINES, EMPTY_LINES, WHAT = 20, 4, 200
# How long an owner has to answer, unless the desk says otherwise. Common practice.
HOLDS = timedelta(days=30)


class EstimateForm(forms.Form):
    """What stands around the lines. `form_key`: the same form sent twice is one estimate."""

    use_required_attribute = False
    form_key = forms.UUIDField(widget=forms.HiddenInput)
    currency = forms.ChoiceField(label=_l("Currency"))
    valid_until = forms.DateField(
        label=_l("Valid until, that day included"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    note = forms.CharField(
        label=_l("Note to the owner"), required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, data: QueryDict | None = None, *, order: WorkOrder, as_of: date) -> None:
        known = money.currencies(order.boutique.country)
        first = order.agreed_currency or known[0]
        super().__init__(data, initial={"form_key": uuid4(), "currency": first, "valid_until": as_of + HOLDS})
        self.as_of = as_of
        offered = dict.fromkeys([first, *known])
        self.fields["currency"].choices = [(one, one) for one in offered]  # type: ignore[attr-defined]

    def clean_valid_until(self) -> date:
        day: date = self.cleaned_data["valid_until"]
        if day < self.as_of:
            raise ValidationError(_("That day is over: choose today or a later one."))
        return day


class LineForm(forms.Form):
    """One line. A price is an amount as people type it; of a covered line it may be left empty."""

    use_required_attribute = False
    what = forms.CharField(label=_l("What is done"), required=False, max_length=WHAT)
    price = forms.CharField(
        label=_l("Price"), required=False, max_length=20, widget=forms.TextInput(attrs={"inputmode": "decimal"})
    )
    covered = forms.BooleanField(label=_l("Covered"), required=False)
    because = forms.CharField(label=_l("Why"), required=False, max_length=300)

    def line(self, currency: str) -> EstimateLine | None:
        """The line, or None for an empty one; errors are added to the form."""
        said = self.cleaned_data
        if not any(said.get(name) for name in ("what", "price", "covered", "because")):
            return None
        try:
            price = money.amount_or_none(said.get("price", ""), currency)
        except ValidationError as wrong:
            self.add_error("price", wrong)
            return None
        if not said.get("what"):
            self.add_error("what", _("Say what is done."))
        elif price is None and not said["covered"]:
            self.add_error("price", _("Say what it costs, or that it is covered."))
        else:
            return EstimateLine(said["what"], price or Decimal(0), covered=said["covered"], because=said["because"])
        return None


class EstimateSheet:
    """Head and lines together."""

    def __init__(self, data: QueryDict | None, *, order: WorkOrder, as_of: date) -> None:
        self.head = EstimateForm(data, order=order, as_of=as_of)
        begun = first_lines(order) if data is None else []
        count = min(len(begun) + EMPTY_LINES, MOST_LINES) if data is None else _count(data)
        self.lines = [
            LineForm(data, prefix=f"line-{at}", initial=begun[at] if at < len(begun) else None) for at in range(count)
        ]
        self.error = ""

    def checked(self) -> list[EstimateLine] | None:
        """The lines; None where the sheet has to be shown again, with what is wrong beside it."""
        head_holds = self.head.is_valid()
        lines_hold = all([line.is_valid() for line in self.lines])  # noqa: C419  # every line says what is wrong with it
        currency = self.head.cleaned_data.get("currency") or "EUR"
        lines = [one for line in self.lines if (one := line.line(currency))]
        if any(line.errors for line in self.lines):
            lines_hold = False
        elif not lines:
            self.error = _("An estimate has at least one line.")
        return lines if head_holds and lines_hold and lines else None

    @property
    def has_errors(self) -> bool:
        return bool(self.error or self.head.errors or any(line.errors for line in self.lines))


def _count(data: QueryDict) -> int:
    """How many lines were sent."""
    return next((at for at in range(MOST_LINES) if f"line-{at}-what" not in data), MOST_LINES)


def first_lines(order: WorkOrder) -> Sequence[dict[str, Any]]:
    """What the sheet begins with, in the owner's language: the last estimate, or work and findings as they are known."""
    latest = order.estimates.order_by("-pk").first()
    if latest:
        return [
            {
                "what": line.what,
                "price": money.typed(line.price, latest.currency),
                "covered": line.covered,
                "because": line.because,
            }
            for line in lines_of(latest)
        ]
    with translation.override(language_of(order.owner) if order.owner else FALLBACK):
        found = [
            {
                "what": one.finding.what[:WHAT] or one.name,
                "price": "",
                "covered": one.covered,
                "because": one.because,
            }
            for one in finding_rows(order)
        ]
        return [*_said_at_counter(order), *found]


def _said_at_counter(order: WorkOrder) -> list[dict[str, Any]]:
    drop_off = DropOff.objects.filter(number=order.number).first()
    said = Estimate.from_record(drop_off.estimate) if drop_off and drop_off.estimate else None
    if said is None or not said.lines:
        return [{"what": str(WORK_DONE[order.kind]), "price": ""}]
    return [{"what": str(ASKED[one.asked]), "price": money.typed(one.amount, said.currency)} for one in said.lines]
