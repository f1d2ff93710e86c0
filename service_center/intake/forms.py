"""What is written down when a piece is taken in."""

from decimal import Decimal
from hashlib import sha256
from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext_lazy as _

from service_center.book.models import Boutique, Piece
from service_center.intake.actions import Sitting
from service_center.intake.rules import Asked
from service_center.intake.wording import ASKED
from service_center.measurements.readings_grid import Grid, add_grid_fields, decimal_or_none
from service_center.measurements.rules import Problem, impossible, unlikely


class DropOffForm(forms.Form):
    """One piece over the counter. Whatever is wrong, everything that was typed stays."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    boutique = forms.ModelChoiceField(
        label=_("At which boutique"), queryset=Boutique.objects.order_by("name", "code"), empty_label=None
    )
    owner_says = forms.CharField(
        label=_("What the owner says"),
        help_text=_("In their own words."),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    asked = forms.MultipleChoiceField(
        label=_("What is asked for"),
        choices=list(ASKED.items()),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Choose at least one.")},
    )
    left_with = forms.CharField(
        label=_("What was left with it"),
        help_text=_("Strap, box, guarantee card, spare links."),
        required=False,
        max_length=200,
    )
    instrument = forms.CharField(label=_("Timing machine"), required=False, max_length=100)
    lift_angle_deg = forms.CharField(label=_("Lift angle it was set to (degrees)"), required=False, max_length=8)
    looked_again = forms.CharField(required=False, max_length=64)

    def __init__(self, data: Any = None, *, piece: Piece, boutique: Boutique | None) -> None:
        """`boutique` is where the member of staff stands; None lets them choose."""
        initial = {"form_key": uuid4(), "boutique": piece.boutique, "lift_angle_deg": _lift_angle(piece)}
        super().__init__(data, initial=initial)
        self.grid: Grid = add_grid_fields(self)
        self.questions: list[Problem] = []
        self.confirmed = False
        self.staff_boutique = boutique
        if boutique:
            del self.fields["boutique"]

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
        return data

    def questioned(self) -> str:
        """What a confirmation speaks of: other values ask anew."""
        return sha256(repr(self.cleaned_data["readings"]).encode()).hexdigest()

    def deed(self) -> dict[str, Any]:
        """The checked values, as `actions.take_in` takes them."""
        data = self.cleaned_data
        readings = data["readings"]
        return {
            "form_key": data["form_key"],
            "boutique": self.staff_boutique or data["boutique"],
            "asked": [Asked(one) for one in data["asked"]],
            "owner_says": data["owner_says"],
            "left_with": data["left_with"],
            "sitting": Sitting(readings, data["instrument"], data["lift_angle_deg"]) if readings else None,
        }


def _lift_angle(piece: Piece) -> str:
    """The calibre's own, which the machine should be set to."""
    angle = piece.model.calibre.lift_angle_deg if piece.model and piece.model.calibre else None
    return "" if angle is None else f"{angle.normalize():f}"
