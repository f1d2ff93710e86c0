"""Writing down what an owner answers."""

from datetime import date

from django.db import transaction

from service_center.access.models import Staff
from service_center.book.actions import set_letters
from service_center.book.models import Boutique, Owner, Piece
from service_center.letters.actions.ending import end_all_of
from service_center.letters.models import Answer, Letter, Reminder
from service_center.letters.rules.answers import fault_of
from service_center.letters.rules.words import AnswerChoice

# What follows for reminders that have not gone out. "Booked" and "not now" keep back what is still to be written;
# a letter already written for the piece would contradict the owner, so it ends as well and may be written again.
ENDS = {
    AnswerChoice.BOOKED: "the owner booked a visit",
    AnswerChoice.NOT_NOW: "the owner asked not to be reminded now",
    AnswerChoice.DONE_ELSEWHERE: "the owner had it done elsewhere",
    AnswerChoice.NO_LONGER_MINE: "the piece is no longer the owner's",
}


class InvalidAnswer(ValueError):  # noqa: N818  # a refusal, named for what was found
    """An answer that says too little, too much, or of something else. The message names the field and the reason."""


@transaction.atomic
def record_answer(
    *,
    owner: Owner,
    letter: Letter | None,
    piece: Piece | None,
    choice: AnswerChoice,
    day: date | None,
    boutique: Boutique | None,
    on: date,
    by: Staff | None,
) -> Answer:
    """Add what an owner said on a day, and end the reminders that it makes pointless before they go out.

    Raises InvalidAnswer; nothing is written then. "No more letters" is about the owner, every other choice about one
    piece. The history entry of "done elsewhere" is the caller's to add (pieces.actions).
    """
    fault = fault_of(choice, has_piece=piece is not None, day=day, has_boutique=boutique is not None, on=on)
    if fault:
        raise InvalidAnswer(fault)
    _check_belongs(owner, letter, piece)
    answer = Answer.objects.create(
        owner=owner,
        letter=letter,
        piece=piece,
        choice=choice.value,
        day=day,
        boutique=boutique,
        said_on=on,
        recorded_by=by,
    )
    if choice is AnswerChoice.NO_MORE_LETTERS:
        set_letters(owner, wanted=False)
        theirs = Reminder.objects.filter(letter__owner=owner, ended_on=None).values_list("piece", flat=True)
        end_all_of(list(theirs), owner=owner.pk, on=on, because="the owner wants no more letters")
    elif piece is not None:
        end_all_of([piece.pk], owner=owner.pk, on=on, because=ENDS[choice])
    return answer


def _check_belongs(owner: Owner, letter: Letter | None, piece: Piece | None) -> None:
    if letter is not None and letter.owner_id != owner.pk:
        raise InvalidAnswer("letter: it went to somebody else")
    if piece is not None and letter is not None and not letter.reminders.filter(piece=piece).exists():
        raise InvalidAnswer("piece: the letter does not speak of it")
