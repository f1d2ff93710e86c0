"""What an owner does behind a letter's link. Each deed is one transaction; said twice, it is one."""

from collections.abc import Sequence
from datetime import date, datetime
from uuid import NAMESPACE_URL, UUID, uuid5

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.book.actions import set_letters
from service_center.book.models import Boutique, HistoryEntry
from service_center.book.rules import DoneBy, EntryKind, Tightness
from service_center.intake.visits.actions import leave_at_home
from service_center.letters.actions import note_ground, record_answer
from service_center.letters.models import Answer, Letter
from service_center.letters.rules.words import AnswerChoice, Ground
from service_center.owner_pages.actions.the_owner import owner_held
from service_center.owner_pages.queries import PieceAsked, answer_standing
from service_center.pieces.actions import code_of, record_entry, strike_entry

SAID_BY_OWNER = "Said by the owner in answer to a letter; no document was seen."
LETTERS_AGAIN = "The owner had stopped letters, and asked for them again by the button on the page of letter {letter}."
TAKEN_BACK = "The owner took it back in a later answer."


@transaction.atomic
def answer(
    letter: Letter,
    pieces: Sequence[PieceAsked],
    *,
    choice: AnswerChoice,
    day: date | None,
    boutique: Boutique | None,
    on: date,
    now: datetime,
) -> int:
    """Write down what the owner says on a day of one piece, or of several alike. Returns how many answers are new.

    What stands already is not written again: a double tap is one answer. A later answer outweighs an earlier one;
    both are kept. A piece that was to come on a visit stays at home where its owner now says otherwise.
    """
    owner = owner_held(letter)
    new = 0
    for of in pieces:
        standing = answer_standing(letter, of.piece)
        if standing and (standing.choice, standing.day, standing.boutique) == (choice.value, day, boutique):
            continue
        leave_at_home(owner, of.piece, on=on, now=now)
        said = record_answer(
            owner=owner, letter=letter, piece=of.piece, choice=choice, day=day, boutique=boutique, on=on, by=None
        )
        if standing:
            _take_back_service(standing, as_of=on)
        if choice is AnswerChoice.DONE_ELSEWHERE and day is not None:
            _note_service(of, said, done_on=day, as_of=on)
        new += 1
    return new


def _note_service(of: PieceAsked, said: Answer, *, done_on: date, as_of: date) -> None:
    """A history entry that starts nothing until the desk has seen a document and records its own (due-dates.md).

    Whether the case was opened or tested is not known: neither is claimed, so that no test becomes owed by hearsay.
    """
    record_entry(
        of.piece,
        done_on=done_on,
        kind=EntryKind.OVERHAUL if of.includes_overhaul else EntryKind.TIGHTNESS_CHECK,
        case_opened=None,
        tightness=Tightness.NOT_TESTED,
        done_by=DoneBy.OUTSIDE,
        accepted=False,
        note=SAID_BY_OWNER,
        by=None,
        as_of=as_of,
        form_key=_key(said),
    )


def _take_back_service(answer: Answer, *, as_of: date) -> None:
    """Strike the entry that an earlier answer made, unless the desk has corrected it since."""
    told = HistoryEntry.objects.filter(code=code_of(_key(answer)), corrections=None).first()
    if told:
        strike_entry(told, reason=TAKEN_BACK, by=None, as_of=as_of)


def _key(answer: Answer) -> UUID:
    """One key an answer, so that its entry is found again."""
    return uuid5(NAMESPACE_URL, f"owner-answer:{answer.pk}")


@transaction.atomic
def stop_letters(letter: Letter, *, on: date) -> bool:
    """No more letters to this owner. False where they had stopped already."""
    owner = owner_held(letter)
    if owner.letters is False:
        return False
    record_answer(
        owner=owner,
        letter=letter,
        piece=None,
        choice=AnswerChoice.NO_MORE_LETTERS,
        day=None,
        boutique=None,
        on=on,
        by=None,
    )
    return True


@transaction.atomic
def resume_letters(letter: Letter, *, on: date) -> bool:
    """The owner wants letters again, from a day on. False where they had never stopped."""
    owner = owner_held(letter)
    if owner.letters is not False:
        return False
    set_letters(owner, wanted=True)
    note_ground(owner, Ground.CONSENT, on=on, wording=LETTERS_AGAIN.format(letter=letter.pk), by=None)
    leave_trail(
        by=None,
        deed="letters_again",
        subject=f"owner:{owner.code}",
        before={"letters": False},
        after={"letters": True},
        reason=f"The owner asked for it on {on.isoformat()}, on the page of letter {letter.pk}.",
    )
    return True
