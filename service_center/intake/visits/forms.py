"""What the desk writes down of a boutique's week and of the days on which it is closed."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from operator import itemgetter
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext_lazy as _

from service_center.intake.visits.rules import Hours, fault_of_hours, version_of
from service_center.workshop.calendars.public_holidays import regions_of

WEEKDAYS = [
    _("Monday"), _("Tuesday"), _("Wednesday"), _("Thursday"), _("Friday"), _("Saturday"), _("Sunday"),
]  # fmt: skip
STRETCHES = 2
MOST_PLACES = 99


@dataclass(frozen=True, slots=True)
class Stretch:
    """The three fields of one stretch of a weekday."""

    opens: BoundField
    closes: BoundField
    places: BoundField

    @property
    def faults(self) -> list[str]:
        """What is wrong, each reason once."""
        fields = (self.opens, self.closes, self.places)
        return list(dict.fromkeys(str(error) for field in fields for error in field.errors))


class WeekForm(forms.Form):
    """A week's opening hours: for each weekday two stretches, or as many as there are. Empty ones are closed."""

    seen = forms.CharField(widget=forms.HiddenInput, max_length=64)

    def __init__(self, data: Any = None, *, week: Sequence[Hours]) -> None:
        super().__init__(data, initial={"seen": version_of(week)})
        self.week = week
        by_day = [[one for one in week if one.weekday == weekday] for weekday in range(7)]
        self.stretches = max(STRETCHES, *map(len, by_day))
        for weekday, nth in self._all():
            known = by_day[weekday][nth] if nth < len(by_day[weekday]) else None
            self._add(weekday, nth, known)

    def _all(self) -> Iterator[tuple[int, int]]:
        return ((weekday, nth) for weekday in range(7) for nth in range(self.stretches))

    def _add(self, weekday: int, nth: int, known: Hours | None) -> None:
        for part, label in (("opens", _("from")), ("closes", _("to"))):
            self.fields[f"{part}-{weekday}-{nth}"] = forms.TimeField(
                label=label,
                required=False,
                initial=getattr(known, part, None),
                input_formats=["%H:%M", "%H:%M:%S"],
                widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
            )
        self.fields[f"places-{weekday}-{nth}"] = forms.IntegerField(
            label=_("places"),
            required=False,
            initial=known.places if known else None,
            min_value=1,
            max_value=MOST_PLACES,
        )

    def rows(self) -> Iterator[tuple[Any, list[Stretch]]]:
        """Weekday by weekday, its name and its stretches."""
        for weekday, name in enumerate(WEEKDAYS):
            yield (
                name,
                [
                    Stretch(*(self[f"{part}-{weekday}-{nth}"] for part in ("opens", "closes", "places")))
                    for nth in range(self.stretches)
                ],
            )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        week: list[Hours] = []
        for weekday, nth in self._all():
            names = [f"{part}-{weekday}-{nth}" for part in ("opens", "closes", "places")]
            opens, closes, places = (data.get(name) for name in names)
            if not (opens or closes or places) or any(name in self.errors for name in names):
                continue
            if not (opens and closes and places):
                for name, value in zip(names, (opens, closes, places), strict=True):
                    if not value:
                        self.add_error(name, _("Fill in from, to and places, or none of them."))
                continue
            one = Hours(weekday, opens, closes, places)
            if fault_of_hours([one]):
                self.add_error(names[1], _("It must close after it opens."))
            elif fault_of_hours([*week, one]):
                self.add_error(names[0], _("This overlaps with other hours of the day."))
            else:
                week.append(one)
        data["week"] = week
        return data


class ClosureForm(forms.Form):
    """Days on which a boutique is closed."""

    first_day = forms.DateField(label=_("First day"), widget=forms.DateInput(attrs={"type": "date"}))
    last_day = forms.DateField(label=_("Last day"), required=False, widget=forms.DateInput(attrs={"type": "date"}))
    reason = forms.CharField(label=_("Reason"), required=False, max_length=200)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        first = data.get("first_day")
        data["last_day"] = data.get("last_day") or first
        if first and data["last_day"] < first:
            self.add_error("last_day", _("The last day comes before the first."))
        return data


class RegionForm(forms.Form):
    """In which part of its country a boutique lies."""

    region = forms.ChoiceField(
        label=_("Region"),
        required=False,
        error_messages={
            "invalid_choice": _("“%(value)s” is no region of this country. Please choose one of the list.")
        },
    )

    def __init__(self, data: Any = None, *, country: str, region: str) -> None:
        super().__init__(data, initial={"region": region})
        known = sorted(regions_of(country).items(), key=itemgetter(1))
        choices = [("", _("Those of the whole country alone")), *known]
        if region and region not in dict(known):
            choices.append((region, region))  # what was kept before the book gave the boutique another country
        self.fields["region"].choices = choices  # type: ignore[attr-defined]
        self.has_regions = bool(known) or bool(region)
