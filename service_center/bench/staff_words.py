"""Words that only staff read: what passes, what comes next, what to be careful of. Cautions after design/facts.md, 9."""

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from service_center.measurements.rules.tightness import TightnessTest

PASSES: dict[str, str | Promise] = {
    TightnessTest.LOOK: _("Crown pushed or screwed home, crystal, back and pushers whole."),
    TightnessTest.DRY_VACUUM: _(
        "At most 50 µg of air a minute. Overpressure squeezes gaskets shut, so this comes first."
    ),
    TightnessTest.DRY_PRESSURE: _(
        "At most 50 µg of air a minute (ISO 22810). No deflection of the case at all is no pass: inside and outside "
        "may be level through a gross leak."
    ),
    TightnessTest.WATER: _("No bubbles, and no water inside."),
    TightnessTest.CONDENSATION: _(
        "Warm the piece to 40 to 45 °C, put a drop of 18 to 25 °C on the crystal for a minute, wipe: no fog inside. A "
        "tight case closed in damp air can fog too; think of the humidity when it was closed."
    ),
}
WHAT_NEXT: dict[str, str | Promise] = {
    TightnessTest.LOOK: _("Push or screw the crown home, replace what is broken, and begin again."),
    TightnessTest.DRY_VACUUM: _(
        "Find the leak: gaskets of crown, back, crystal and pushers. Then begin again; no water until it passes dry."
    ),
    TightnessTest.DRY_PRESSURE: _(
        "Take the movement out, then look for bubbles from the bare case in water. Mend it, and begin again in air; no "
        "water for the whole piece until it passes dry."
    ),
    TightnessTest.WATER: _("Open it at once, dry the movement, replace the gaskets, and begin again in air."),
    TightnessTest.CONDENSATION: _(
        "Open it at once: there is moisture inside. Dry it, replace the gaskets, and begin again in air."
    ),
}
CAUTIONS: list[str | Promise] = [
    _(
        "A pressure vessel stores energy: a litre of air at 10 bar about 2,500 J, a litre of water a quarter of a joule. "
        "For water tests fill it with water and leave no cushion of air; never open it under pressure; have it "
        "inspected as the law asks."
    ),
    _(
        "Old dials and hands can carry radium or tritium. Do not open or scrape them outside a licensed workshop, and "
        "do not blow air into an open case; keep many such pieces out of small unaired rooms."
    ),
    _("No flammable solvent in an ultrasonic tank or near a warm plate; air the room."),
    _(
        "Cells: keep them from children, used ones too. A swallowed cell is an emergency. A changed cell asks for new "
        "gaskets and a new test."
    ),
    _("Local codes and licensed practice come first."),
]
