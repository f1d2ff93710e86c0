"""What staff write down about a piece."""

from datetime import date
from typing import Any
from uuid import uuid4

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from service_center.book.models import HistoryEntry, Piece, WatchModel
from service_center.book.rules import DoneBy, EntryKind, Status, Tightness, Use
from service_center.pieces import rules
from service_center.pieces.actions import Said
from service_center.pieces.wording import DONE_BY, ENTRY_KINDS, STATUSES, TIGHTNESS, USES, choices

DAY_REFUSED = {
    "future": _("That day is still to come."),
    "before_making": _("The piece was made after that day."),
}
# A page asked for far beyond any record answers nothing, and holidays are worked out year by year.
FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2199, 12, 31)
OPENED = {"": _("Not known"), "yes": _("Yes"), "no": _("No")}
OPENED_MEANS = {"": None, "yes": True, "no": False}


def day_of_work(day: date, *, piece: Piece, as_of: date) -> date:
    """The day, where something can have been done to the piece on it. ValidationError elsewhere."""
    refused = rules.day_refused(day, made_on=piece.made_on, as_of=as_of)
    if refused:
        raise forms.ValidationError(DAY_REFUSED[refused])
    return day


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
        return day_of_work(self.cleaned_data["done_on"], piece=self.piece, as_of=self.as_of)

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
    why = forms.CharField(label=_("Why it is corrected"), max_length=2000, widget=forms.Textarea(attrs={"rows": 2}))
    field_order = [
        *("form_key", "corrects", "why", "kind", "done_on", "done_by", "accepted", "case_opened", "tightness", "note")
    ]

    def __init__(self, data: QueryDict | None = None, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        if not self["corrects"].value():
            del self.fields["why"]

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
            "why": self.cleaned_data.get("why", ""),
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


class PieceForm(forms.Form):
    """What the book says of a piece beside its history: whether it is about, how it is worn, which model, when sold."""

    status = forms.ChoiceField(label=_("Status"), choices=choices(STATUSES), widget=forms.RadioSelect)
    use = forms.ChoiceField(
        label=_("Use"), choices=[("", _("Not known")), *choices(USES)], required=False, widget=forms.RadioSelect
    )
    model = forms.ModelChoiceField(
        label=_("Model"),
        queryset=WatchModel.objects.order_by("name", "reference"),
        required=False,
        empty_label=_("Not known"),
    )
    sold_on = forms.DateField(
        label=_("Sold on"),
        help_text=_("From the guarantee card. The guarantee runs from this day."),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    why = forms.CharField(
        label=_("How you know"),
        help_text=_("Such as: told by the owner, who sent the report of the police."),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(self, data: QueryDict | None = None, *, piece: Piece, as_of: date) -> None:
        initial = {
            "status": piece.status or Status.IN_USE.value,
            "use": piece.use,
            "model": piece.model_id,
            "sold_on": piece.sold_on,
        }
        super().__init__(data, initial=initial)
        self.piece, self.as_of = piece, as_of
        self.fields["sold_on"].widget.attrs["max"] = as_of.isoformat()
        self.fields["model"].label_from_instance = _named  # type: ignore[attr-defined]

    def clean_sold_on(self) -> date | None:
        day: date | None = self.cleaned_data["sold_on"]
        refused = rules.day_refused(day, made_on=self.piece.made_on, as_of=self.as_of) if day else None
        if refused and day != self.piece.sold_on:
            raise forms.ValidationError(DAY_REFUSED[refused])
        return day

    def said(self) -> Said:
        """For a valid form."""
        data = self.cleaned_data
        use = Use(data["use"]) if data["use"] else None
        return Said(data["model"], data["sold_on"], use, Status(data["status"]))


def _named(model: WatchModel) -> str:
    return f"{model.name} ({model.reference})" if model.name else model.reference


class AsOfForm(forms.Form):
    """The day that the page speaks of. Empty means today."""

    as_of = forms.DateField(
        label=_("As of"),
        required=False,
        input_formats=["%Y-%m-%d"],
        error_messages={"invalid": _("As of: write the day as 2027-03-01, a day of the calendar.")},
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    def clean_as_of(self) -> date | None:
        day: date | None = self.cleaned_data["as_of"]
        if day and not FIRST_DAY <= day <= LAST_DAY:
            raise forms.ValidationError(
                _("As of: the page answers for days from %(first)s to %(last)s."),
                params={"first": FIRST_DAY.isoformat(), "last": LAST_DAY.isoformat()},
            )
        return day

    def day(self, today: date) -> date:
        """The day asked for, or today where none was, or none that can be answered for."""
        asked: date | None = self.cleaned_data.get("as_of") if self.is_valid() else None
        return asked or today
