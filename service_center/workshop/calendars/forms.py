"""What the desk writes down of watchmakers, their weeks, skills and absences, and of the workshop's own days."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext_lazy as _

from service_center.access.models import Staff
from service_center.access.rules import Role
from service_center.book.rules import Complexity
from service_center.workshop.calendars.rules import AbsenceKind
from service_center.workshop.calendars.wording import ABSENCES, SKILLS, WEEKDAYS

QUARTER = Decimal("0.25")
USUAL_WEEK = (480,) * 5 + (0, 0)


def _day(label: Any, *, required: bool = True, help_text: Any = "") -> forms.DateField:
    return forms.DateField(
        label=label, required=required, help_text=help_text, widget=forms.DateInput(attrs={"type": "date"})
    )


class PersonForm(forms.Form):
    """Who a watchmaker is, and until when they have a bench."""

    name = forms.CharField(label=_("Name"), max_length=200)
    account = forms.ModelChoiceField(
        label=_("Signs in as"), queryset=Staff.objects.none(), required=False, empty_label=_("no account"),
        help_text=_("With it they see their own weeks."),
    )  # fmt: skip
    last_day = _day(_("Last day at the bench"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        accounts = Staff.objects.filter(role=Role.WATCHMAKER.value, is_active=True).order_by("username")
        self.fields["account"].queryset = accounts  # type: ignore[attr-defined]


class WeekFields(forms.Form):
    """Hours at the bench, a field a weekday."""

    def __init__(self, *args: Any, minutes: Sequence[int] = USUAL_WEEK, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for weekday, name in enumerate(WEEKDAYS):
            self.fields[f"weekday_{weekday}"] = forms.DecimalField(
                label=name, required=False, min_value=0, max_value=24, step_size=QUARTER, decimal_places=2,
                initial=f"{minutes[weekday] / 60:g}",
                error_messages={"max_value": _("A day has 24 hours at most."), "min_value": _("A day has 0 hours at least.")},
            )  # fmt: skip

    def weekdays(self) -> list[BoundField]:
        """The seven fields, Monday first."""
        return [self[f"weekday_{weekday}"] for weekday in range(7)]

    def minutes(self) -> list[int]:
        """What was typed, in minutes; an empty field is a day without the bench."""
        return [int((self.cleaned_data[f"weekday_{weekday}"] or 0) * 60) for weekday in range(7)]


class SkillFields(forms.Form):
    """What somebody may do, and the share of the week that each skill gets."""

    def __init__(self, *args: Any, skills: Mapping[str, int | None] | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = skills or {}
        for skill in Complexity:
            self.fields[f"may_{skill.value}"] = forms.BooleanField(
                label=SKILLS[skill], required=False, initial=skill.value in known
            )
            self.fields[f"share_{skill.value}"] = forms.IntegerField(
                label=_("share of the week, %"), required=False, min_value=0, max_value=100,
                initial=known.get(skill.value),
            )  # fmt: skip

    def skill_rows(self) -> Iterator[tuple[BoundField, BoundField]]:
        """The two fields of each skill."""
        for skill in Complexity:
            yield self[f"may_{skill.value}"], self[f"share_{skill.value}"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for skill in Complexity:
            if data.get(f"share_{skill.value}") and not data.get(f"may_{skill.value}"):
                self.add_error(f"share_{skill.value}", _("Tick the skill, or leave its share empty."))
        return data

    def skills(self) -> dict[str, int | None]:
        """The skills that were ticked, with their shares."""
        return {
            skill.value: self.cleaned_data.get(f"share_{skill.value}")
            for skill in Complexity
            if self.cleaned_data.get(f"may_{skill.value}")
        }


class AddForm(WeekFields, SkillFields, PersonForm):
    """A watchmaker who is new to the house, with their week and their skills."""

    first_day = _day(_("First day at the bench"))

    def people(self) -> list[BoundField]:
        """The fields about the person."""
        return [self[name] for name in ("name", "first_day", "last_day", "account")]


class WeekForm(WeekFields):
    """Another week, from a day on."""

    since = _day(_("From"))


class SkillsForm(SkillFields):
    """Other skills or shares, from a day on."""

    since = _day(_("From"))


class AbsenceForm(forms.Form):
    """Days on which somebody is away."""

    first_day = _day(_("First day"))
    last_day = _day(_("Last day"), required=False)
    kind = forms.ChoiceField(
        label=_("Why"), choices=[(kind.value, word) for kind, word in ABSENCES.items()],
        help_text=_("“Away” for all else. Write nothing about anybody's health here or elsewhere."),
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        data["last_day"] = data.get("last_day") or data.get("first_day")
        return data

    def absence(self) -> tuple[date, date, AbsenceKind]:
        """From, to, and why."""
        data = self.cleaned_data
        return data["first_day"], data["last_day"], AbsenceKind(data["kind"])


class ClosureForm(forms.Form):
    """Days on which the workshop is closed."""

    first_day = _day(_("First day"))
    last_day = _day(_("Last day"), required=False)
    reason = forms.CharField(label=_("Reason"), required=False, max_length=200)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        data["last_day"] = data.get("last_day") or data.get("first_day")
        return data


class HolidayForm(forms.Form):
    """A public holiday that the table lacks."""

    day = _day(_("Day"))
    name = forms.CharField(label=_("Name"), max_length=200)


class PlaceForm(forms.Form):
    """Where the workshop stands."""

    country = forms.CharField(
        label=_("Country"), max_length=2, help_text=_("Two letters of ISO 3166, such as CH."),
    )  # fmt: skip
    subdivision = forms.CharField(
        label=_("Canton, state or province"), max_length=8, required=False,
        help_text=_("As ISO 3166-2 writes it after the country, such as NE."),
    )  # fmt: skip
    time_zone = forms.CharField(label=_("Time zone"), max_length=64, help_text=_("Such as Europe/Zurich."))

    def clean_country(self) -> str:
        return str(self.cleaned_data["country"]).upper()

    def clean_subdivision(self) -> str:
        return str(self.cleaned_data["subdivision"]).upper()
