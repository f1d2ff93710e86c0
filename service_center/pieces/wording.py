"""The book's words as staff read them."""

from collections.abc import Mapping

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from service_center.book.rules import DoneBy, EntryKind, Place, ServiceKind, Status, Tightness, Use
from service_center.intervals.forms import STATE_WORDS
from service_center.letters.rules.words import AnswerChoice, LetterState, Step

Words = Mapping[str, str | Promise]

ENTRY_KINDS: Words = {
    EntryKind.OVERHAUL: _("Overhaul"),
    EntryKind.REPAIR: _("Repair"),
    EntryKind.TIGHTNESS_CHECK: _("Tightness check"),
    EntryKind.BATTERY: _("Battery"),
    EntryKind.STRAP: _("Strap"),
}
SERVICE_KINDS: Words = {ServiceKind.OVERHAUL: _("Overhaul"), ServiceKind.TIGHTNESS: _("Tightness check")}
TIGHTNESS: Words = {
    Tightness.PASSED: _("Passed"),
    Tightness.FAILED: _("Failed"),
    Tightness.NOT_TESTED: _("Not tested"),
}
DONE_BY: Words = {DoneBy.OWN: _("Our own workshop"), DoneBy.OUTSIDE: _("Somebody outside")}
PLACES: Words = {
    Place.OWNER: _("With the owner"),
    Place.BOUTIQUE: _("At the boutique"),
    Place.WORKSHOP: _("In the workshop"),
}
USES: Words = {Use.EVERYDAY: _("Worn every day"), Use.IN_WATER: _("Worn in water")}
STATUSES: Words = {
    Status.IN_USE: _("In use"),
    Status.LOST: _("Lost"),
    Status.STOLEN: _("Stolen"),
    Status.RETIRED: _("Retired"),
}
STATES: Words = {str(state): word for state, word in STATE_WORDS.items()}
LETTER_STATES: Words = {
    LetterState.WAITING: _("Waiting"),
    LetterState.HANDING_OVER: _("Handing over"),
    LetterState.AT_THE_DOT: _("At the dot"),
    LetterState.SENT: _("Sent"),
    LetterState.IN_DOUBT: _("In doubt"),
    LetterState.REFUSED: _("Refused"),
    LetterState.HELD: _("Held"),
    LetterState.ENDED: _("Ended"),
}
STEPS: Words = {
    Step.INVITATION: _("Invitation"),
    Step.NUDGE: _("Second letter"),
    Step.LAST: _("Last letter"),
    Step.YEARLY: _("Yearly letter"),
}
ANSWERS: Words = {
    AnswerChoice.BOOKED: _("A visit was booked"),
    AnswerChoice.NOT_NOW: _("Not now"),
    AnswerChoice.DONE_ELSEWHERE: _("Done elsewhere"),
    AnswerChoice.NO_LONGER_MINE: _("No longer theirs"),
    AnswerChoice.NO_MORE_LETTERS: _("No more letters"),
}


def choices(words: Words) -> list[tuple[str, str | Promise]]:
    """The same for a form's field."""
    return list(words.items())
