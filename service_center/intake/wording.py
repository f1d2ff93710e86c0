"""The counter's words that an owner reads too: on the receipt they stand in the owner's language."""

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from service_center.intake.rules import Asked, Caution, Grade, Part
from service_center.measurements.rules import Wind

Words = dict[str, str | Promise]

ASKED: Words = {
    Asked.OVERHAUL: _("Overhaul"),
    Asked.CHECK: _("Check"),
    Asked.REPAIR: _("Repair"),
    Asked.BATTERY: _("Battery"),
    Asked.STRAP: _("Strap"),
}
WINDS: Words = {
    Wind.FULL: _("Fully wound"),
    Wind.AFTER_24H: _("24 hours later"),
    Wind.END: _("At the end of the reserve"),
}
# In words for an owner, who knows no symbols; where the crown points follows from a crown at three o'clock.
POSITIONS: Words = {
    "CH": _("Dial up"),
    "CB": _("Dial down"),
    "3H": _("3 o'clock up"),
    "6H": _("6 o'clock up"),
    "9H": _("9 o'clock up"),
    "12H": _("12 o'clock up"),
}
PARTS: Words = {
    Part.CRYSTAL: _("Crystal"),
    Part.BEZEL: _("Bezel"),
    Part.CROWN: _("Crown"),
    Part.PUSHERS: _("Pushers"),
    Part.CASE: _("Case"),
    Part.LUGS: _("Lugs"),
    Part.BACK: _("Case back"),
    Part.STRAP: _("Bracelet or strap"),
    Part.CLASP: _("Clasp"),
    Part.DIAL: _("Dial"),
    Part.HANDS: _("Hands"),
}
GRADES: Words = {
    Grade.AS_WORN: _("as worn"),
    Grade.LIGHT_MARKS: _("light marks"),
    Grade.DEEP_MARKS: _("deep marks"),
    Grade.DAMAGED: _("damaged"),
    Grade.MISSING: _("missing"),
}
CAUTIONS: Words = {
    Caution.LUMINOUS: _(
        "Older dials and hands can carry luminous paint with radium or tritium. Kept whole and closed they are "
        "usually no risk to the wearer. Do not open the case and do not scrape the dial; leave both to a licensed "
        "workshop."
    ),
    Caution.CELL: _(
        "Keep cells away from children, used ones too. A swallowed cell is an emergency: call for help at once, give "
        "nothing to eat or drink, and do not induce vomiting."
    ),
    Caution.LOCAL_CODES: _("Local codes and licensed practice come first."),
}
TERMS: list[str | Promise] = [
    _("Please bring this receipt when you fetch the piece."),
    _("Parts that we replace are yours; tell us if you want them back."),
    _("We ask you before we refinish anything or change a dial or hands."),
    _(
        "A tightness test says how the piece stood on the day of the test. Keep the piece out of water until we tell you."
    ),
    _("Readings taken at the counter show how the piece ran when it came in. They are no certificate."),
]
