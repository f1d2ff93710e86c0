"""The bench's words: figures, tests, controls, cautions. Those of the papers an owner reads too."""

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from service_center.book.rules import EntryKind
from service_center.measurements.rules.reserve import Control
from service_center.measurements.rules.tightness import TightnessTest

Words = dict[str, str | Promise]

FIGURES: Words = {
    "mean_rate": _("Mean rate"),
    "delta": _("Greatest difference between positions"),
    "delta_up_to_three": _("Greatest difference, three positions or fewer"),
    "horizontal_minus_vertical": _("Lying less upright"),
    "isochronism": _("Isochronism (24 h less full wind)"),
    "lowest_horizontal_amplitude": _("Lowest amplitude, lying"),
    "lowest_vertical_amplitude": _("Lowest amplitude, upright"),
    "lowest_horizontal_amplitude_24h": _("Lowest amplitude after 24 h, lying"),
    "lowest_vertical_amplitude_24h": _("Lowest amplitude after 24 h, upright"),
    "highest_amplitude": _("Highest amplitude"),
    "greatest_amplitude_drop": _("Greatest fall of amplitude in 24 h"),
    "highest_beat_error": _("Highest beat error"),
}
# Unit and decimals of each figure; what is not named here is a rate.
UNITS: dict[str, tuple[str, int]] = {
    **{figure: ("°", 0) for figure in FIGURES if "amplitude" in figure},
    "highest_beat_error": ("ms", 2),
}
RATE_UNIT = ("s/d", 1)

TESTS: Words = {
    TightnessTest.LOOK: _("Look: crown home, crystal and back whole"),
    TightnessTest.DRY_VACUUM: _("In air, under vacuum"),
    TightnessTest.DRY_PRESSURE: _("In air, under pressure"),
    TightnessTest.WATER: _("In water, under pressure"),
    TightnessTest.CONDENSATION: _("Condensation: no fog under a cold drop"),
}
CONTROLS: Words = {
    Control.ON_ARRIVAL: _("On arrival"),
    Control.ASSEMBLED: _("Assembled, before casing"),
    Control.FINAL: _("Final control, cased"),
}

WORK_DONE: Words = {
    EntryKind.OVERHAUL: _("Overhaul"),
    EntryKind.REPAIR: _("Repair"),
    EntryKind.TIGHTNESS_CHECK: _("Tightness check"),
    EntryKind.BATTERY: _("Battery"),
    EntryKind.STRAP: _("Strap"),
}
