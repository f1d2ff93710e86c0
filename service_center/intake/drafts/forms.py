"""What is asked at each step. A step that is wrong keeps everything that was typed."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from hashlib import sha256
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from service_center.book.models import Boutique, Piece
from service_center.intake import money
from service_center.intake.actions import Sitting
from service_center.intake.drafts.dry_test import DryPart
from service_center.intake.rules import (
    Asked,
    Condition,
    Estimate,
    Grade,
    Line,
    Money,
    PartNoted,
    Price,
    parts_of,
)
from service_center.intake.rules.strokes import LEAST_WAY, NoSignature, Stroke, strokes_of, way_of
from service_center.intake.wording import ASKED, GRADES, PARTS
from service_center.measurements.readings_grid import Grid, add_grid_fields, decimal_or_none
from service_center.measurements.rules import Problem, impossible, unlikely
from service_center.measurements.rules.tightness import PlannedTest


class StoryForm(forms.Form):
    """What the owner says, and what is asked. `boutiques`: for the desk, which says where the piece was handed in."""

    asked = forms.MultipleChoiceField(
        label=_("What is asked for"),
        choices=list(ASKED.items()),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Choose at least one.")},
    )
    owner_says = forms.CharField(
        label=_("What the owner says"),
        help_text=_("In their own words."),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    boutique = forms.ModelChoiceField(
        label=_("At which boutique"), queryset=Boutique.objects.order_by("name", "code"), empty_label=None
    )

    def __init__(self, data: Any = None, *, initial: dict[str, Any], choose_boutique: bool) -> None:
        super().__init__(data, initial=initial)
        if not choose_boutique:
            del self.fields["boutique"]

    def asked_for(self) -> tuple[Asked, ...]:
        """In the house's order."""
        return tuple(one for one in Asked if one.value in self.cleaned_data["asked"])


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


class ReadingsForm(forms.Form):
    """Readings, and a test in air by the piece's plan, where the boutique can take them; else the workshop does."""

    instrument = forms.CharField(label=_("Timing machine"), required=False, max_length=100)
    lift_angle_deg = forms.CharField(label=_("Lift angle it was set to (degrees)"), required=False, max_length=8)
    beat_error_is = forms.ChoiceField(
        label=_("Beat error as the machine shows it"),
        choices=[("half", _("half the difference")), ("whole", _("the whole difference"))],
        required=False,
    )
    looked_again = forms.CharField(required=False, max_length=64)

    def __init__(
        self,
        data: Any = None,
        *,
        initial: dict[str, Any],
        plan: Sequence[PlannedTest] = (),
        volume_ml: Decimal | None = None,
    ) -> None:
        super().__init__(data, initial=initial)
        self.grid: Grid = add_grid_fields(self)
        self.dry = DryPart(self, plan, volume_ml)
        self.questions: list[Problem] = []
        self.confirmed = False

    def clean_lift_angle_deg(self) -> Decimal | None:
        angle = decimal_or_none(self.cleaned_data["lift_angle_deg"])
        if angle is not None and not 20 <= angle <= 90:
            raise forms.ValidationError(_("A lift angle lies between 20 and 90 degrees."))
        return angle

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        readings = self.grid.readings(data)
        problems = impossible(readings)
        for problem in problems:
            self.add_error(self.grid.field_name(problem), problem.reason)
        self.questions = self.grid.questions = [] if problems else unlikely(readings)
        data["readings"] = readings
        self.confirmed = data.get("looked_again") == self.questioned()
        if self.questions and not self.confirmed:
            self.add_error(None, _("Some readings are unusual. Look at them again, then confirm or correct them."))
        data["dry"] = self.dry.clean(data)
        return data

    def questioned(self) -> str:
        """What a confirmation speaks of: other values ask anew."""
        return sha256(repr(self.cleaned_data["readings"]).encode()).hexdigest()

    def sitting(self) -> Sitting | None:
        data = self.cleaned_data
        readings = data["readings"]
        if not readings:
            return None
        return Sitting(readings, data["instrument"], data["lift_angle_deg"], data["beat_error_is"] == "whole")


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


class SignForm(forms.Form):
    """The signature: on glass, or a typed name with a tick. `seen` is the text under which it stands.

    `mail_to`: the owner's address, where this member of staff may see it and a letter reaches it; empty otherwise.
    """

    seen = forms.CharField(max_length=64, widget=forms.HiddenInput)
    strokes = forms.CharField(required=False, max_length=120_000, widget=forms.HiddenInput)
    signer = forms.CharField(label=_("Name of who signs"), max_length=200)
    agrees = forms.BooleanField(
        label=_("The owner has read the text above and agrees; the typed name stands for the signature"), required=False
    )
    mail = forms.BooleanField(required=False)

    def __init__(self, data: Any = None, *, initial: dict[str, Any], mail_to: str) -> None:
        super().__init__(data, initial=initial)
        self.fields["mail"].label = _("Receipt by e-mail to %(address)s") % {"address": mail_to}
        if not mail_to:
            del self.fields["mail"]

    def clean_strokes(self) -> tuple[Stroke, ...]:
        try:
            strokes = strokes_of(self.cleaned_data["strokes"])
        except NoSignature as refused:
            raise forms.ValidationError(_("The signature did not arrive whole. Please sign again.")) from refused
        return strokes if way_of(strokes) >= LEAST_WAY else ()

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if not data.get("strokes") and not data.get("agrees") and "strokes" not in self.errors:
            self.add_error(
                "strokes", _("Please let the owner sign on the glass, or type the name and tick the box below it.")
            )
        return data
