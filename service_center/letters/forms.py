"""What the desk fills in about letters."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.forms import BoundField
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from service_center.letters.composing.texts import SLOTS, our_text
from service_center.letters.models import HouseText
from service_center.letters.queries.wording import ours_has_changed
from service_center.letters.rules.answers import fault_of
from service_center.letters.rules.wording import flaws_of, tidied
from service_center.letters.rules.words import AnswerChoice, Channel, LetterSort
from service_center.letters.wording.examples import EXAMPLES
from service_center.letters.wording.words import (
    LETTERS,
    ORDERS,
    RECEIPT,
    VISITS,
    Group,
    label_of,
    names_told,
    saved_meanwhile,
    told_of,
)

# Of digits, in the number of a letter.
LONGEST_NUMBER = 19


class WriteAgainForm(forms.Form):
    """Why letters may go to a stopped address again."""

    reason = forms.CharField(
        label=_("Why letters may go there again"),
        help_text=_("Such as: the owner confirmed the address by telephone today."),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class EndHeldForm(forms.Form):
    """Which letters that are held after a restore nobody wants any more, and why."""

    TICKED, ALL = "ticked", "all"
    day = forms.DateField(required=False, widget=forms.HiddenInput)
    sort = forms.ChoiceField(
        required=False, choices=[("", ""), *((one.value, one.value) for one in LetterSort)], widget=forms.HiddenInput
    )
    after = forms.CharField(required=False, widget=forms.HiddenInput)  # where the page of the list began
    which = forms.ChoiceField(
        label=_("Which"),
        choices=[(TICKED, _("those that are ticked")), (ALL, _("all of this list, its other pages too"))],
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label=_("Why nobody wants them any more"),
        help_text=_("Such as: the mail server's log has them as sent on Friday."),
        max_length=160,
    )

    def __init__(self, data: QueryDict | None = None, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        typed = data.getlist("letter") if data else []
        self.ticked = {int(one) for one in typed if one.isascii() and one.isdigit() and len(one) < LONGEST_NUMBER}

    def clean(self) -> dict[str, Any]:
        """Some are ticked, where those that are ticked are meant."""
        said = super().clean() or {}
        if said.get("which") == self.TICKED and not self.ticked:
            self.add_error("which", _("No letter is ticked."))
        return said


@dataclass(frozen=True, slots=True)
class TextRow:
    """One text on its page: its field, what it may name, ours, and what the house saved of it last, if anything."""

    code: str
    field: BoundField
    names: list[tuple[str, str, bool]]
    ours: str
    saved: HouseText | None

    @property
    def own(self) -> bool:
        """Whether the house has its own text here."""
        return bool(self.saved and self.saved.text)

    @property
    def saved_by(self) -> str:
        """Who wrote the house's text."""
        return self.saved.saved_by.get_full_name() or self.saved.saved_by.username if self.saved else ""

    @property
    def ours_has_changed(self) -> bool:
        """Whether our text is another than when the house wrote its own."""
        return self.saved is not None and ours_has_changed(self.saved)


class WordingForm(forms.Form):
    """The texts of a group in one language. Nothing is stripped of what was typed; what is wrong is told by field."""

    def __init__(self, data: Any = None, *, group: Group, language: str, latest: Mapping[str, HouseText]) -> None:
        super().__init__(data)
        self.group, self.language, self.latest = group, language, latest
        for code in group.codes:
            slot, saved = SLOTS[code], latest.get(code)
            text = saved.text if saved and saved.text else our_text(code, language)
            rows = 1 if slot.one_line and len(text) < 55 else 3 if len(text) < 200 else 5
            attrs = {"rows": rows, "lang": language, "spellcheck": "true", "dir": "auto"}
            self.fields[code] = forms.CharField(
                label=label_of(code), initial=text, required=False, strip=False, widget=forms.Textarea(attrs=attrs)
            )
            self.fields[_seen(code)] = forms.IntegerField(
                widget=forms.HiddenInput, initial=saved.pk if saved else 0, required=False, min_value=0
            )

    def rows(self) -> Iterator[TextRow]:
        """The texts in order, each with all that its writer wants to know."""
        for code in self.group.codes:
            yield TextRow(code, self[code], names_told(code), our_text(code, self.language), self.latest.get(code))

    def seen(self) -> dict[str, int]:
        """Which version of each text its writer had before them."""
        return {code: self.cleaned_data.get(_seen(code)) or 0 for code in self.group.codes}

    def texts(self) -> dict[str, str]:
        """What was written, as it would be kept."""
        return {code: self.cleaned_data[code] for code in self.group.codes}

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for code in self.group.codes:
            data[code] = tidied(data.get(code) or "")
            for found in flaws_of(data[code], SLOTS[code]):
                self.add_error(code, told_of(found))
                data[code] = tidied(self.data.get(code, ""))
        return data

    def somebody_was_first(self, rows: Mapping[str, HouseText]) -> None:
        """Tell it beside each text, keep what was typed, and let the next save be a decision of the writer."""
        data = dict(self.data.items())
        for code, row in rows.items():
            data[_seen(code)] = str(row.pk)
            theirs = row.text or our_text(code, self.language)
            self.add_error(code, saved_meanwhile(row.saved_by.get_full_name() or row.saved_by.username, theirs))
        self.data = data


class PreviewForm(forms.Form):
    """On what a letter is looked at: which letter, and about a piece of the book or an example."""

    use_required_attribute = False
    letter = forms.ChoiceField(
        label=_("Letter"), choices=[*LETTERS.items(), *VISITS.items(), *RECEIPT.items(), *ORDERS.items()]
    )
    example = forms.ChoiceField(label=_("Example"), choices=[(code, one.label) for code, one in EXAMPLES.items()])
    serial = forms.CharField(label=_("Or a piece of the book, by its serial number"), required=False, max_length=64)


def _seen(code: str) -> str:
    return f"seen-{code}"


class DayForm(forms.Form):
    """A day to look at."""

    day = forms.DateField(label=_("Day"), widget=forms.DateInput(attrs={"type": "date"}))


class PeriodForm(forms.Form):
    """From one day to another."""

    first = forms.DateField(label=_("From"), widget=forms.DateInput(attrs={"type": "date"}))
    last = forms.DateField(label=_("To"), widget=forms.DateInput(attrs={"type": "date"}))

    def clean(self) -> dict[str, Any]:
        """The first day comes first."""
        said = super().clean() or {}
        if said.get("first") and said.get("last") and said["first"] > said["last"]:
            self.add_error("last", _("This day lies before the first one."))
        return said


# What can be said on the telephone or in a letter that came back. A visit is booked on its own page.
ANSWERS_HEARD = {
    "": _("no answer yet"),
    AnswerChoice.NOT_NOW: _("not now, until a day"),
    AnswerChoice.DONE_ELSEWHERE: _("done elsewhere, on a day"),
    AnswerChoice.NO_LONGER_MINE: _("no longer theirs"),
    AnswerChoice.NO_MORE_LETTERS: _("no more letters and no more calls"),
}


class ReachedForm(forms.Form):
    """How and when an owner was reached, and what they said of all the letter's pieces."""

    channel = forms.ChoiceField(
        label=_("How"),
        choices=[(Channel.TELEPHONE, _("telephoned")), (Channel.PAPER, _("posted on paper"))],
        widget=forms.RadioSelect,
    )
    on = forms.DateField(label=_("On"), widget=forms.DateInput(attrs={"type": "date"}))
    answer = forms.ChoiceField(label=_("What they said"), choices=list(ANSWERS_HEARD.items()), required=False)
    day = forms.DateField(
        label=_("Until when, or when it was done"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text=_("Only for \u201cnot now\u201d and \u201cdone elsewhere\u201d."),
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, planned_on: date, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.planned_on, self.today = planned_on, today

    def clean_on(self) -> date:
        """Neither before the letter was prepared nor in days to come."""
        on: date = self.cleaned_data["on"]
        if not self.planned_on <= on <= self.today:
            raise forms.ValidationError(_("Between the day it was prepared and today."))
        return on

    def clean(self) -> dict[str, Any]:
        """An answer is whole, or there is none."""
        said = super().clean() or {}
        if not said.get("answer") or not said.get("on"):
            if said.get("day") and not said.get("answer"):
                self.add_error("day", _("Say also what the owner said."))
            return said
        choice = AnswerChoice(said["answer"])
        has_piece = choice is not AnswerChoice.NO_MORE_LETTERS
        fault = fault_of(choice, has_piece=has_piece, day=said.get("day"), has_boutique=False, on=said["on"])
        if fault:
            self.add_error("day", FAULTS.get(fault, fault))
        return said


FAULTS = {
    "day: missing": _("This answer needs a day."),
    "day: this answer takes none": _("This answer takes no day."),
    "day: it lies in the future": _("That day lies in the future."),
    "day: it has passed": _("That day has passed."),
}
