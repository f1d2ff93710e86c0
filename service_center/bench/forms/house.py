"""The house's own records: a calibre's limits, a machine's files, the practice of tightness tests."""

from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from service_center.bench.forms.tests import NumberField
from service_center.bench.wording import FIGURES, RATE_UNIT, UNITS
from service_center.measurements.models import MachineFile
from service_center.measurements.rules import POSITIONS, Wind, position_of
from service_center.measurements.rules.limits import HOUSE_LIMITS, POSITION_SETS, Judging, Range
from service_center.measurements.rules.machine_file import BEAT_ERROR_UNITS, RATE_UNITS, FileMapping
from service_center.measurements.rules.tightness import Practice

SETS = [
    (
        " ".join(positions),
        gettext_lazy("%(count)s: %(positions)s") % {"count": count, "positions": ", ".join(positions)},
    )
    for count, positions in POSITION_SETS.items()
]


class JudgingForm(forms.Form):
    """Limits of every figure, positions, crown. An empty end sets no limit on that side."""

    positions = forms.ChoiceField(label=gettext_lazy("Judged in positions"), choices=SETS, widget=forms.RadioSelect)
    crown_at = forms.IntegerField(label=gettext_lazy("The crown sits at (hour of the dial)"), min_value=1, max_value=12)

    def __init__(self, data: QueryDict | None = None, *, judging: Judging) -> None:
        initial = {"positions": " ".join(judging.positions), "crown_at": judging.crown_at}
        for figure, limits in judging.limits.items():
            for end in ("low", "high"):
                value = getattr(limits, end)
                initial[f"{figure}-{end}"] = "" if value is None else f"{value.normalize():f}"
        super().__init__(data, initial=initial)
        kept = " ".join(judging.positions)
        if kept not in dict(SETS):
            self.fields["positions"].choices = [*SETS, (kept, kept)]  # type: ignore[attr-defined]
        for figure, name in FIGURES.items():
            unit, decimals = UNITS.get(figure, RATE_UNIT)
            for end, label in (("low", _("from")), ("high", _("to"))):
                self.fields[f"{figure}-{end}"] = NumberField(
                    label=f"{name} ({unit}), {label}", low=-1000, high=1000, decimals=decimals, required=False
                )

    def rows(self) -> list[dict[str, Any]]:
        """One figure a row, as the template lays them out, with the house's own limits beside."""
        return [
            {
                "name": name,
                "unit": UNITS.get(figure, RATE_UNIT)[0],
                "ends": [self[f"{figure}-low"], self[f"{figure}-high"]],
                "house": HOUSE_LIMITS[figure],
            }
            for figure, name in FIGURES.items()
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for figure in FIGURES:
            low, high = data.get(f"{figure}-low"), data.get(f"{figure}-high")
            if low is not None and high is not None and low > high:
                self.add_error(f"{figure}-low", _("The lower end lies above the upper one."))
        return data

    def judging(self) -> Judging:
        """The checked values."""
        data = self.cleaned_data
        limits = {figure: Range(data[f"{figure}-low"], data[f"{figure}-high"]) for figure in FIGURES}
        return Judging(limits, tuple(data["positions"].split()), data["crown_at"])


WORDS = forms.Textarea(attrs={"rows": 6, "spellcheck": "false"})


class MachineFileForm(forms.Form):
    """How one kind of file is read, and a sample to try it on; trying keeps nothing."""

    name = forms.CharField(label=gettext_lazy("What you call the machine"), max_length=100)
    lines_above = forms.IntegerField(label=gettext_lazy("Lines above the header line"), min_value=0, max_value=200)
    position_column = forms.CharField(label=gettext_lazy("Column of the position"), max_length=100)
    wind_column = forms.CharField(
        label=gettext_lazy("Column of the wind state"),
        help_text=gettext_lazy("Empty: asked for when a file is used."),
        required=False,
        max_length=100,
    )
    rate_column = forms.CharField(label=gettext_lazy("Column of the rate"), required=False, max_length=100)
    rate_unit = forms.ChoiceField(label=gettext_lazy("Unit of the rate"), choices=[(one, one) for one in RATE_UNITS])
    amplitude_column = forms.CharField(
        label=gettext_lazy("Column of the amplitude (degrees)"), required=False, max_length=100
    )
    beat_error_column = forms.CharField(label=gettext_lazy("Column of the beat error"), required=False, max_length=100)
    beat_error_unit = forms.ChoiceField(
        label=gettext_lazy("Unit of the beat error"), choices=[(one, one) for one in BEAT_ERROR_UNITS]
    )
    whole_beat_error = forms.BooleanField(
        label=gettext_lazy("The machine shows the whole difference of the two beats, not half of it"), required=False
    )
    decimal_comma = forms.BooleanField(label=gettext_lazy("Decimals stand behind a comma"), required=False)
    position_words = forms.CharField(
        label=gettext_lazy("Its words for positions"),
        help_text=gettext_lazy(
            "One a line: its word = CH, CB, 3H, 6H, 9H or 12H. Those symbols themselves need no line."
        ),
        required=False,
        widget=WORDS,
    )
    wind_words = forms.CharField(
        label=gettext_lazy("Its words for wind states"),
        help_text=gettext_lazy("One a line: its word = full or 24h."),
        required=False,
        widget=forms.Textarea(attrs={"rows": 2, "spellcheck": "false"}),
    )
    sample = forms.CharField(
        label=gettext_lazy("A sample: the file's text"),
        required=False,
        max_length=100_000,
        widget=forms.Textarea(attrs={"rows": 6, "spellcheck": "false"}),
    )
    sample_file = forms.FileField(label=gettext_lazy("Or the file itself"), required=False)

    def __init__(self, data: QueryDict | None = None, files: Any = None, *, known: MachineFile | None) -> None:
        initial: dict[str, Any] = {"lines_above": 0, "rate_unit": "s/d", "beat_error_unit": "ms"}
        if known:
            initial = {name: getattr(known, name) for name in FileMapping.__dataclass_fields__}
            initial |= {"name": known.name, "whole_beat_error": known.whole_beat_error}
            for words in ("position_words", "wind_words"):
                initial[words] = "\n".join(f"{word} = {symbol}" for word, symbol in initial[words].items())
        super().__init__(data, files, initial=initial)

    def clean_position_words(self) -> dict[str, str]:
        return self._words("position_words", {symbol: symbol for symbol in POSITIONS}, _("no position"))

    def clean_wind_words(self) -> dict[str, str]:
        return self._words("wind_words", {wind.value: wind.value for wind in Wind}, _("no wind state"))

    def _words(self, field: str, known: dict[str, str], why: str) -> dict[str, str]:
        found: dict[str, str] = {}
        for number, line in enumerate(self.cleaned_data[field].splitlines(), 1):
            if not line.strip():
                continue
            word, equals, meant = (part.strip() for part in line.rpartition("="))
            symbol = known.get(position_of(meant) or meant.lower())
            if not equals or not word or symbol is None:
                raise forms.ValidationError(
                    _("Line %(line)s: “%(said)s” is %(why)s."), params={"line": number, "said": meant[:30], "why": why}
                )
            found[word] = symbol
        return found

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if not any(data.get(f"{one}_column") for one in ("rate", "amplitude", "beat_error")):
            self.add_error(None, _("Name the column of at least one figure."))
        columns = [data[name] for name in data if name.endswith("_column") and data[name]]
        if len(set(columns)) < len(columns):
            self.add_error(None, _("Two figures cannot stand in one column."))
        return data

    def mapping(self) -> FileMapping:
        """The checked values."""
        return FileMapping(**{name: self.cleaned_data[name] for name in FileMapping.__dataclass_fields__})


class PracticeForm(forms.Form):
    """The house's choices for tightness tests."""

    every_piece_at_125 = forms.BooleanField(
        label=gettext_lazy("Test every piece in water at 125 % of its rating, as ISO 6425 asks of divers' watches"),
        required=False,
    )
    vacuum_first = forms.BooleanField(
        label=gettext_lazy("Test under vacuum first"),
        help_text=gettext_lazy("Common practice; no standard asks for it."),
        required=False,
    )
    water_for_divers_alone = forms.BooleanField(
        label=gettext_lazy("Only divers' watches go into water; others are passed in air"), required=False
    )
    free_volume_ml = NumberField(
        label=gettext_lazy("Free volume of the dry tester (ml)"), low="0.01", high=99999, decimals=2, required=False
    )

    def practice(self) -> Practice:
        """The checked values."""
        return Practice(**{name: self.cleaned_data[name] for name in Practice.__dataclass_fields__})
