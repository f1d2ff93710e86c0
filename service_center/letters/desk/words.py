"""How the desk reads a letter's states, steps and services."""

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from service_center.book.rules import ServiceKind
from service_center.letters.rules.deciding import Reason
from service_center.letters.rules.words import (
    AnswerChoice,
    Channel,
    Ground,
    LetterSort,
    LetterState,
    RoundDecision,
    Step,
    Unusual,
)

STATES: dict[LetterState, str | Promise] = {
    LetterState.WAITING: _("waiting"),
    LetterState.HANDING_OVER: _("handing over"),
    LetterState.AT_THE_DOT: _("at the dot"),
    LetterState.SENT: _("sent"),
    LetterState.IN_DOUBT: _("in doubt"),
    LetterState.REFUSED: _("refused"),
    LetterState.HELD: _("held"),
    LetterState.ENDED: _("ended"),
}
MEANING: dict[LetterState, str | Promise] = {
    LetterState.WAITING: _("It goes out by itself once its owner's morning has come."),
    LetterState.HANDING_OVER: _("It is being handed to the mail server now."),
    LetterState.AT_THE_DOT: _("The mail server has it; its answer is awaited."),
    LetterState.SENT: _("The mail server took it."),
    LetterState.IN_DOUBT: _(
        "The line failed after the whole letter was handed over: it may have gone out or not. It is never sent again "
        "by itself. Decide here; a second copy carries the same number, so that mail programs can tell."
    ),
    LetterState.REFUSED: _("The mail server refused it. Ask the owner for another address, or telephone."),
    LetterState.HELD: _("It is held until you let it go."),
    LetterState.ENDED: _("A service, an answer or a change came first: it never went out."),
}
MEANING_REFUSED_TO_US = _(
    "The mail server refused it for a reason that is the house's own: no owner is at fault. See to the house's mail "
    "first, then try again."
)
# Of letters that are told or posted: what else their states mean.
MEANING_WITHOUT_MAIL: dict[LetterState, str | Promise] = {
    LetterState.HELD: _("It is prepared: telephone, or print and post it, and write down here what came of it."),
    LetterState.SENT: _("The owner was told, and it was written down here."),
    LetterState.ENDED: _("It was put back, or a service or an answer came first: nobody was told by it."),
}
SORTS: dict[LetterSort, str | Promise] = {
    LetterSort.INVITATION: _("about service"),
    LetterSort.CONFIRMATION: _("about a booked visit"),
    LetterSort.RECEIPT: _("with a receipt"),
    LetterSort.ORDER: _("about an order"),
}
STEPS: dict[Step, str | Promise] = {
    Step.INVITATION: _("invitation"),
    Step.NUDGE: _("second letter"),
    Step.LAST: _("last letter"),
    Step.YEARLY: _("yearly letter"),
}
# What the trail has of one letter.
DEEDS: dict[str, str | Promise] = {
    "letter_sent_again": _("in doubt, sent again"),
    "letter_taken_as_sent": _("in doubt, taken as sent"),
    "letter_released": _("let go"),
    "letter_ended": _("ended"),
    "letter_prepared": _("prepared, to be told or posted"),
    "letter_put_back": _("put back: the owner was not reached"),
    "letter_reached": _("written down: the owner was told"),
    "links_withdrawn": _("links withdrawn"),
}
CHANNELS: dict[Channel, str | Promise] = {
    Channel.MAIL: _("by mail"),
    Channel.PAPER: _("on paper"),
    Channel.TELEPHONE: _("by telephone"),
}
GROUNDS: dict[Ground, str | Promise] = {
    Ground.CONSENT: _("consent"),
    Ground.EXISTING_CUSTOMER: _("existing customer"),
    Ground.WITHDRAWN: _("withdrawn"),
}
HELD_BECAUSE: dict[Unusual, str | Promise] = {
    Unusual.BEHIND: _("its day lies behind that of the last round"),
    Unusual.AHEAD: _("its day lies more than a week ahead of the last round"),
    Unusual.MANY: _("it has far more letters than usual"),
    Unusual.RESTORED: _("a backup was brought back, and letters that went out after it was made may be among these"),
}
DECISIONS: dict[RoundDecision, str | Promise] = {
    RoundDecision.LET_GO: _("let go"),
    RoundDecision.TAKEN_BACK: _("taken back"),
}
REASONS: dict[Reason, str | Promise] = {
    Reason.NO_OWNER: _("no owner is known"),
    Reason.NO_CONSENT: _("nobody asked whether they want letters"),
    Reason.NO_GROUND: _("no ground for letters is written down"),
    Reason.NO_MORE_LETTERS: _("wants no more letters"),
    Reason.NO_EMAIL: _("no e-mail address"),
    Reason.ADDRESS_STOPPED: _("letters to the address came back"),
    Reason.LOST: _("the piece is lost"),
    Reason.STOLEN: _("the piece is stolen"),
    Reason.RETIRED: _("the piece is retired"),
    Reason.IN_WORKSHOP: _("the piece is in the house"),
    Reason.NO_LONGER_THEIRS: _("the owner said it is no longer theirs"),
    Reason.WAITS_FOR_OWNER: _("the owner asked for a later day"),
    Reason.NOT_A_WORKING_DAY: _("not a working day where the owner lives"),
    Reason.LETTER_NOT_LONG_AGO: _("another letter went out less than 28 days ago"),
    Reason.LETTER_ON_ITS_WAY: _("another letter is on its way or held"),
}
_REASONS_KEPT = {reason.value: words for reason, words in REASONS.items()}


def why_in_words(kept: str) -> str | Promise:
    """Why a letter or a reminder ended, as it was kept: a reason of the rules in its words, anything else as it is."""
    return _REASONS_KEPT.get(kept, kept)


KINDS: dict[ServiceKind, str | Promise] = {
    ServiceKind.OVERHAUL: _("overhaul"),
    ServiceKind.TIGHTNESS: _("tightness check"),
}
ANSWERS: dict[AnswerChoice, str | Promise] = {
    AnswerChoice.BOOKED: _("booked a visit"),
    AnswerChoice.NOT_NOW: _("not now"),
    AnswerChoice.DONE_ELSEWHERE: _("done elsewhere"),
    AnswerChoice.NO_LONGER_MINE: _("no longer theirs"),
    AnswerChoice.NO_MORE_LETTERS: _("no more letters"),
}
