"""What the desk fills in about letters."""

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from service_center.letters.rules.answers import fault_of
from service_center.letters.rules.words import AnswerChoice, Channel


class WriteAgainForm(forms.Form):
    """Why letters may go to a stopped address again."""

    reason = forms.CharField(
        label=_("Why letters may go there again"),
        help_text=_("Such as: the owner confirmed the address by telephone today."),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )


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
