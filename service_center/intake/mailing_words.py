"""How staff read where a receipt by mail stands."""

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from service_center.letters.rules.words import LetterState

RECEIPT_MEANING: dict[LetterState, str | Promise] = {
    LetterState.WAITING: _("It goes out by itself, within a minute of the mail server's being there."),
    LetterState.HANDING_OVER: _("It is being handed to the mail server now."),
    LetterState.AT_THE_DOT: _("The mail server has it; its answer is awaited."),
    LetterState.SENT: _("The mail server took it."),
    LetterState.IN_DOUBT: _(
        "The line failed at the end: it may have gone out or not. The desk decides; print it here."
    ),
    LetterState.REFUSED: _("The mail server refused it. Print it, and ask the owner for another address."),
    LetterState.HELD: _("It is held until the desk lets it go."),
    LetterState.ENDED: _("It never went out: no letter could reach the owner. Print it."),
}
