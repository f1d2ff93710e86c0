"""What the desk types about bench hours and the coming weeks."""

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from service_center.book.rules import Complexity
from service_center.planning.rules.scoring import AHEAD
from service_center.planning.wording import SKILLS

HORIZONS = (26, 52, 104, 156)


class HoursForm(forms.Form):
    """Bench hours of an overhaul, a field a skill."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]  # Django's own signature
        for skill in Complexity:
            self.fields[skill.value] = forms.DecimalField(
                label=SKILLS[skill.value], min_value=Decimal("0.25"), max_value=Decimal(500), decimal_places=2
            )


class HorizonForm(forms.Form):
    """How many weeks ahead to look."""

    weeks = forms.TypedChoiceField(
        label=_("Weeks ahead"), coerce=int, choices=[(str(weeks), str(weeks)) for weeks in HORIZONS], initial="52"
    )


class AheadForm(forms.Form):
    """How long before its week a forecast was made."""

    ahead = forms.ChoiceField(choices=[(str(weeks), str(weeks)) for weeks in AHEAD])


class WhatIfForm(forms.Form):
    """Another watchmaker, a closed week, owners who come more often or less: each alone, or together."""

    skills = forms.MultipleChoiceField(
        label=_("Another watchmaker, who may do"), choices=list(SKILLS.items()), required=False,
        widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip
    hours_a_week = forms.DecimalField(
        label=_("Bench hours a week"), min_value=Decimal(1), max_value=Decimal(60), decimal_places=2, required=False,
        help_text=_("Monday to Friday, without the days on which the workshop stands still."),
    )  # fmt: skip
    since = forms.DateField(label=_("From"), required=False, widget=forms.DateInput(attrs={"type": "date"}))
    closed = forms.DateField(
        label=_("A closed week"), required=False, widget=forms.DateInput(attrs={"type": "date"}),
        help_text=_("Any day of the week in which no bench works."),
    )  # fmt: skip
    answers_percent = forms.IntegerField(
        label=_("Owners who come, in percent of today's"), min_value=10, max_value=300, required=False,
        help_text=_("120: of ten who come today, twelve come. Letters that are out count too."),
    )  # fmt: skip

    def __init__(self, *args: Any, first: date, weeks: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._first, self._last = first, first + timedelta(weeks=weeks, days=-1)

    def clean(self) -> dict[str, Any]:
        """A watchmaker has skills, hours and a first day; days lie within the weeks; something is different."""
        typed = super().clean() or self.cleaned_data
        person = ("skills", "hours_a_week", "since")
        if any(typed.get(name) for name in person):
            for name in person:
                if not typed.get(name) and name not in self.errors:
                    self.add_error(name, gettext("Another watchmaker needs skills, hours and a first day."))
        if (since := typed.get("since")) and since > self._last:
            self.add_error("since", gettext("That is after the last of these weeks."))
        if (closed := typed.get("closed")) and not self._first <= closed <= self._last:
            self.add_error("closed", gettext("That is not one of these weeks."))
        if not self.errors and not any(typed.get(name) for name in (*person, "closed", "answers_percent")):
            self.add_error(None, gettext("Say what would be different: a watchmaker, a closed week, or the answers."))
        return typed

    def about(self) -> Mapping[str, Any]:
        """What was typed, as a what-if keeps it."""
        typed = self.cleaned_data
        return {
            "skills": typed["skills"],
            "hours_a_week": float(typed["hours_a_week"] or 0),
            "from": typed["since"].isoformat() if typed["since"] else "",
            "closed": typed["closed"].isoformat() if typed["closed"] else "",
            "answers_percent": typed["answers_percent"] or 100,
        }
