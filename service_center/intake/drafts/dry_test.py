"""A test of tightness in air at the counter: what its fields are, and what of them cannot be."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from service_center.measurements.actions import Decay
from service_center.measurements.readings_grid import decimal_or_none
from service_center.measurements.rules.tightness import (
    IN_AIR,
    LIMIT_UG_A_MINUTE,
    PlannedTest,
    TightnessTest,
    decay_flow,
)
from service_center.pieces.tested import Tested

DryTests = tuple[tuple[TightnessTest, Tested], ...]
NAMES = {TightnessTest.DRY_VACUUM: _("In air, under vacuum"), TightnessTest.DRY_PRESSURE: _("In air, under pressure")}
PASSED = [("yes", _("Passed")), ("no", _("Failed"))]
FIGURES = {
    "bar": _("Overpressure (bar)"),
    "minutes": _("Held for (minutes)"),
    "drop": _("Pressure change (mbar)"),
    "volume": _("Free volume (ml)"),
    "start": _("Temperature at the start (°C)"),
    "end": _("Temperature at the end (°C)"),
}
BETWEEN = {
    "bar": (Decimal(-1), Decimal(200)),
    "minutes": (Decimal("0.05"), Decimal(6000)),
    "drop": (Decimal(0), Decimal(100_000)),
    "volume": (Decimal("0.01"), Decimal(100_000)),
    "start": (Decimal(-20), Decimal(90)),
    "end": (Decimal(-20), Decimal(90)),
}
# As fine as a result keeps them.
DECIMALS = {"bar": 3, "minutes": 2, "drop": 4, "volume": 3, "start": 2, "end": 2}
# What a leak flow is worked out from, beside the pressure change.
NEEDED = ("minutes", "volume", "start")


@dataclass(frozen=True, slots=True)
class TestFields:
    """One test on the form. `filled`: its figures are shown open."""

    name: Any
    planned: PlannedTest
    passed: forms.BoundField
    figures: list[forms.BoundField]
    filled: bool


class DryPart:
    """The fields of the tests in air that a piece's plan begins with; none for a piece that is not tested here."""

    def __init__(self, form: forms.Form, plan: Sequence[PlannedTest], volume_ml: Decimal | None) -> None:
        self.form, self.plan = form, [one for one in plan if one.test in IN_AIR]
        if not self.plan:
            return
        form.fields["looked"] = forms.BooleanField(
            label=_("Looked at: crown pushed or screwed home, crystal, back and pushers whole"), required=False
        )
        for one in self.plan:
            form.fields[f"{one.test}-passed"] = forms.ChoiceField(
                label=NAMES[one.test], choices=PASSED, required=False, widget=forms.RadioSelect
            )
            usual = {"bar": one.bar, "minutes": one.minutes, "volume": volume_ml}
            for figure, label in FIGURES.items():
                form.fields[f"{one.test}-{figure}"] = forms.CharField(
                    label=label,
                    required=False,
                    max_length=12,
                    initial="" if usual.get(figure) is None else f"{usual[figure].normalize():f}",  # type: ignore[union-attr]
                    widget=forms.TextInput(
                        attrs={"inputmode": "text" if figure in ("bar", "start", "end") else "decimal"}
                    ),
                )

    def tests(self) -> Iterator[TestFields]:
        for one in self.plan:
            figures = [self.form[f"{one.test}-{figure}"] for figure in FIGURES]
            filled = any(field.errors for field in figures) or bool(self.form[f"{one.test}-drop"].value())
            yield TestFields(NAMES[one.test], one, self.form[f"{one.test}-passed"], figures, filled)

    def clean(self, data: dict[str, Any]) -> DryTests:
        """The tests that were made, in their order; errors stand at their fields."""
        made: list[tuple[TightnessTest, Tested]] = []
        missing = failed = False
        for one in self.plan:
            tested = self._tested(one, data)
            if tested is None:
                missing = True
                continue
            if failed:
                self._refuse(
                    one, "passed", _("The test before it failed: it is mended first, and begins again in air.")
                )
            elif missing:
                self._refuse(one, "passed", _("The test under vacuum comes before it."))
            failed = failed or tested.passed is False
            made.append((one.test, tested))
        if made and not data.get("looked"):
            self.form.add_error("looked", _("Look first: nothing is put under pressure that is open or broken."))
        if not made:
            return ()
        return ((TightnessTest.LOOK, Tested(True, None, None, None, "")), *made)

    def _tested(self, one: PlannedTest, data: dict[str, Any]) -> Tested | None:
        figures = {figure: self._figure(one, figure, data) for figure in FIGURES}
        said = {"yes": True, "no": False}.get(data.get(f"{one.test}-passed", ""))
        if said is None and figures["drop"] is None:
            return None
        bar, wanted = figures["bar"], one.bar
        if bar is not None and wanted is not None and (bar < wanted if wanted > 0 else bar > wanted):
            self._refuse(
                one,
                "bar",
                _("The plan asks for %(bar)s bar; less says nothing of it.") % {"bar": f"{wanted.normalize():f}"},
            )
        decay, passed = self._decay(one, figures, said=said)
        return Tested(passed, bar, figures["minutes"], decay, "")

    def _decay(
        self, one: PlannedTest, figures: dict[str, Decimal | None], *, said: bool | None
    ) -> tuple[Decay | None, bool | None]:
        """The figures of the tester, and whether it passed: by the leak flow where there is one."""
        drop = figures["drop"]
        if drop is None:
            return None, said
        lacking = [figure for figure in NEEDED if figures[figure] is None]
        for figure in lacking:
            self._refuse(one, figure, _("A leak flow needs it."))
        if lacking:
            return None, said
        decay = Decay(drop, figures["volume"] or Decimal(0), figures["start"] or Decimal(0), figures["end"])
        try:
            flow = decay_flow(
                pressure_drop_mbar=float(drop),
                overpressure_bar=float(figures["bar"] if figures["bar"] is not None else one.bar or 0),
                volume_ml=float(decay.volume_ml),
                minutes=float(figures["minutes"] or 0),
                start_c=float(decay.start_c),
                end_c=None if decay.end_c is None else float(decay.end_c),
            )
        except ValueError as cannot_be:
            self._refuse(one, "drop", str(cannot_be))
            return None, said
        return decay, abs(flow) <= LIMIT_UG_A_MINUTE and said is not False

    def _figure(self, one: PlannedTest, figure: str, data: dict[str, Any]) -> Decimal | None:
        try:
            number = decimal_or_none(data.get(f"{one.test}-{figure}", ""))
        except forms.ValidationError as error:
            self._refuse(one, figure, error)
            return None
        low, high = BETWEEN[figure]
        if number is not None and not low <= number <= high:
            self._refuse(
                one, figure, _("It lies between %(low)s and %(high)s.") % {"low": f"{low:f}", "high": f"{high:f}"}
            )
            return None
        return None if number is None else round(number, DECIMALS[figure])

    def _refuse(self, one: PlannedTest, figure: str, why: Any) -> None:
        self.form.add_error(f"{one.test}-{figure}", why)
