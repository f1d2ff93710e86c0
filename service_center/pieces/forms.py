"""What staff write down about a piece."""

from datetime import date
from typing import Any
from uuid import uuid4

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from service_center.book.models import HistoryEntry, Piece
from service_center.book.rules import DoneBy, EntryKind, Tightness
from service_center.pieces import rules
from service_center.pieces.wording import DONE_BY, ENTRY_KINDS, TIGHTNESS, choices

DAY_REFUSED = {
    "future": _("That day is still to come."),
    "before_making": _("The piece was made after that day."),
}
OPENED = {"": _("Not known"), "yes": _("Yes"), "no": _("No")}
OPENED_MEANS = {"": None, "yes": True, "no": False}


class WorkForm(forms.Form):
    """What was done to a piece on a day. `as_of` is today: later days are refused."""

    form_key = forms.UUIDField(widget=forms.HiddenInput)
    kind = forms.ChoiceField(label=_("What was done"), choices=choices(ENTRY_KINDS), widget=forms.RadioSelect)
    done_on = forms.DateField(
        label=_("On which day"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    case_opened = forms.ChoiceField(
        label=_("Was the case opened?"), choices=[("yes", _("Yes")), ("no", _("No"))], widget=forms.RadioSelect
    )
    tightness = forms.ChoiceField(label=_("Tightness test"), choices=choices(TIGHTNESS), widget=forms.RadioSelect)
    note = forms.CharField(label=_("Note"), required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(
        self, data: QueryDict | None = None, *, piece: Piece, as_of: date, initial: dict[str, Any] | None = None
    ) -> None:
        super().__init__(data, initial={"form_key": uuid4(), "done_on": as_of, **(initial or {})})
        self.piece, self.as_of = piece, as_of
        self.fields["done_on"].widget.attrs["max"] = as_of.isoformat()

    def clean_done_on(self) -> date:
        day: date = self.cleaned_data["done_on"]
        refused = rules.day_refused(day, made_on=self.piece.made_on, as_of=self.as_of)
        if refused:
            raise forms.ValidationError(DAY_REFUSED[refused])
        return day

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        kind = data.get("kind")
        if kind and data.get("case_opened") == "no" and rules.must_open_the_case(EntryKind(kind)):
            self.add_error("case_opened", _("That cannot be done without opening the case."))
        return data

    def deed(self) -> dict[str, Any]:
        """The checked values, as the actions take them."""
        data = self.cleaned_data
        return {
            "form_key": data["form_key"],
            "kind": EntryKind(data["kind"]),
            "case_opened": OPENED_MEANS[data["case_opened"]],
            "tightness": Tightness(data["tightness"]),
            "note": data["note"],
        }


class EntryForm(WorkForm):
    """Work by anybody, written into the history; `corrects` is the code of a wrong entry whose place it takes."""

    corrects = forms.CharField(required=False, max_length=64, widget=forms.HiddenInput)

    case_opened = forms.ChoiceField(
        label=_("Was the case opened?"), choices=choices(OPENED), required=False, widget=forms.RadioSelect
    )
    done_by = forms.ChoiceField(
        label=_("Who did it"), choices=choices(DONE_BY), initial=DoneBy.OWN.value, widget=forms.RadioSelect
    )
    accepted = forms.BooleanField(
        label=_("A document was seen: accept the work done outside"),
        required=False,
        help_text=_("Only accepted work starts a new interval. Work of our own needs no tick."),
    )
    field_order = ["form_key", "corrects", "kind", "done_on", "done_by", "accepted", "case_opened", "tightness", "note"]

    def clean_corrects(self) -> HistoryEntry | None:
        code = self.cleaned_data["corrects"]
        wrong = HistoryEntry.objects.filter(piece=self.piece, code=code).first() if code else None
        if code and wrong is None:
            raise forms.ValidationError(_("The entry to correct is not of this piece."))
        return wrong

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("accepted") and data.get("done_by") == DoneBy.OWN:
            self.add_error("accepted", _("Work of our own workshop needs no document."))
        if data.get("done_by") == DoneBy.OWN and data.get("case_opened") == "":
            self.add_error("case_opened", _("Of our own work we know it: yes or no?"))
        return data

    def deed(self) -> dict[str, Any]:
        outside = self.cleaned_data["done_by"] == DoneBy.OUTSIDE
        return super().deed() | {
            "done_on": self.cleaned_data["done_on"],
            "done_by": DoneBy(self.cleaned_data["done_by"]),
            "accepted": self.cleaned_data["accepted"] if outside else None,
            "corrects": self.cleaned_data["corrects"],
        }


class StrikeForm(forms.Form):
    """Why an entry's work never happened."""

    reason = forms.CharField(
        label=_("Why it never happened"), max_length=2000, widget=forms.Textarea(attrs={"rows": 2})
    )


class HandBackForm(WorkForm):
    """The finished service of our own workshop; the piece goes to its owner now."""

    field_order = ["form_key", "kind", "done_on", "case_opened", "tightness", "note"]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if self._leaves_a_test_owed(data) and not data.get("note"):
            self.add_error("note", _("Say why the piece goes back without a passed test, and what the owner was told."))
        return data

    def _leaves_a_test_owed(self, data: dict[str, Any]) -> bool:
        if not data.get("tightness") or not data.get("case_opened"):
            return False
        model = self.piece.model
        return rules.leaves_a_test_owed(
            rated=bool(model and model.rated_bar is not None),
            case_opened=OPENED_MEANS[data["case_opened"]],
            tightness=Tightness(data["tightness"]),
        )

    def deed(self) -> dict[str, Any]:
        return super().deed() | {"on": self.cleaned_data["done_on"]}
