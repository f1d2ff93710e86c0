"""How the desk reads a letter's states, steps and services."""

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from service_center.book.rules import ServiceKind
from service_center.letters.rules.words import AnswerChoice, LetterState, Step

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
STEPS: dict[Step, str | Promise] = {Step.INVITATION: _("invitation"), Step.NUDGE: _("second letter")}
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
