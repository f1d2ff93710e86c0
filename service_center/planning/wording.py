"""Words of planning as staff read them."""

from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from service_center.book.rules import ServiceKind
from service_center.letters.rules.words import Step
from service_center.planning.models import Reckoning
from service_center.planning.rules.words import Outcome
from service_center.workshop.words import SKILLS

__all__ = ["LETTERS", "SKILLS", "why_failed"]

LETTERS = {
    (ServiceKind.OVERHAUL.value, Step.INVITATION.value): _("Overhaul, invitation"),
    (ServiceKind.OVERHAUL.value, Step.NUDGE.value): _("Overhaul, second letter"),
    (ServiceKind.OVERHAUL.value, Step.LAST.value): _("Overhaul, last letter"),
    (ServiceKind.TIGHTNESS.value, Step.INVITATION.value): _("Tightness test, invitation"),
    (ServiceKind.TIGHTNESS.value, Step.NUDGE.value): _("Tightness test, second letter"),
    (ServiceKind.TIGHTNESS.value, Step.YEARLY.value): _("Tightness test, yearly letter"),
}


def why_failed(reckoning: Reckoning) -> str:
    """Why something that was asked for came to nothing, as the desk reads it; empty where it did not."""
    if reckoning.outcome == Outcome.NOT_PROVED.value:
        return _now("No plan was found that could be proved: %(why)s") % {"why": reckoning.why}
    if reckoning.outcome == Outcome.NOT_AS_SEEN.value:
        return _now(
            "The book has changed since you looked. Nothing was accepted. The proposal is worked out anew: look at it once more."
        )
    if reckoning.outcome == Outcome.FAILED.value:
        return _now("It could not be worked out (%(why)s). Whoever looks after the site finds more in its journal.") % {
            "why": reckoning.why
        }
    return ""
