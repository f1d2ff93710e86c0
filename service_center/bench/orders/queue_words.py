"""Words of the bench and of reception: what to take care of, and why a move is refused."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l

from service_center.bench.wording import FIGURES
from service_center.intake.rules import Caution
from service_center.workshop.orders.actions import NotReady
from service_center.workshop.orders.rules.control import Lack, Missing, only_limits
from service_center.workshop.orders.rules.operations import Operation
from service_center.workshop.orders.rules.steps import (
    CannotMove,
    NeedsAReason,
    Over,
    Skips,
)
from service_center.workshop.words import OPERATIONS, STEPS

LUMINOUS = _l("Old luminous dials and hands may hold radium or tritium: no scraping, no blowing, gloves.")
# Where hands can come to harm, or do harm. Common practice; local codes and licensed practice have the last word.
CAUTIONS_OF_WORK = {
    Operation.UNCASING: LUMINOUS,
    Operation.DIAL_AND_HANDS: LUMINOUS,
    Operation.CLEANING: _l("Solvents: under the hood, away from flames, waste as your local code says."),
    Operation.CELL: _l("Cells: one at a time, never short-circuited, out of children's reach, to the recycler."),
    Operation.REGULATION: _l("A magnetised movement reads fast: take the field off before you regulate."),
    Operation.TIGHTNESS_TESTS: _l("Pressure vessel: lid locked, pressure let off before it is opened; dry before wet."),
}

# What this very piece calls for, by its age and its winding.
CAUTIONS_OF_PIECE = {
    Caution.LUMINOUS: _l(
        "Made before 2001, or nobody knows when: dial and hands may carry radium or tritium. Measure before you open it "
        "where you can. Keep the paint whole, wear gloves, air the room, wash your hands; taking such paint off is work "
        "for a licensed workshop. Where you find it, write it down as a finding, and say so on the bag."
    ),
    Caution.CELL: _l(
        "It has a cell: one at a time, never short-circuited, a leaking one with gloves, out of children's reach, and to "
        "the recycler."
    ),
    Caution.LOCAL_CODES: _l("Local codes and licensed practice come first."),
}


def refusal(refused: CannotMove) -> str:
    """Why an order does not move, in words."""
    if isinstance(refused, Skips):
        return _("First this order needs: %(step)s.") % {"step": str(STEPS[refused.needed])}
    if isinstance(refused, NeedsAReason):
        return _("Going back needs a reason.")
    if isinstance(refused, Over):
        return _("This order is closed: the piece was handed back.")
    return _("No way leads there from where the order stands now. Look at it again.")


def lacking(one: Missing) -> str:
    """One thing that is missing, in words."""
    if one.lack is Lack.OPERATION:
        return _("%(operation)s is not finished") % {"operation": str(OPERATIONS[Operation(one.what)])}
    if one.lack is Lack.POSITION:
        return _("%(position)s was read when it came in and is not read yet") % {"position": one.what}
    if one.lack is Lack.OUT_OF_LIMITS:
        return _("%(figure)s lies outside its limits") % {"figure": str(FIGURES[one.what])}
    return {
        Lack.READINGS: _("no readings since the work began"),
        Lack.TIGHTNESS: _("not tested for tightness since its case was open"),
        Lack.FAILED: _("the tightness test failed"),
    }[one.lack]


def not_ready(refused: NotReady) -> str:
    """What is missing, in one sentence."""
    said = _("Not ready: %(missing)s.") % {"missing": "; ".join(lacking(one) for one in refused.missing)}
    if only_limits(refused.missing):
        said += " " + _("If it cannot be better, its order's page lets it go with your reason.")
    return said
