"""What the page of a letter is made of: its pieces as the letter tells of them, and the answers it takes."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.http import QueryDict
from django.utils.translation import gettext as _

from service_center.book.models import Owner
from service_center.guarantee.queries import decision_of
from service_center.letters import compose_words
from service_center.letters.models import Letter
from service_center.letters.rules.words import AnswerChoice
from service_center.owner_pages.forms import answers_for, together
from service_center.owner_pages.queries import PieceInLetter, boutiques_for, pieces_of
from service_center.owner_pages.wording import answer_in_words


@dataclass(frozen=True, slots=True)
class Wrong:
    """An answer that could not be taken: what was sent, so that the owner need not type it again."""

    serials: frozenset[str]
    choice: AnswerChoice
    data: QueryDict


def context_of(letter: Letter, today: date, wrong: Wrong | None = None) -> dict[str, Any]:
    """What the template shows. One filled button: on the only piece that waits for an answer, or for all of them."""
    pieces = pieces_of(letter, today)
    boutiques = boutiques_for(letter.owner, pieces)
    waiting = [of for of in pieces if of.services and of.answer is None]
    cards = []
    for of in pieces:
        mine = wrong if wrong and wrong.serials == {of.piece.serial} else None
        chosen, data = (mine.choice, mine.data) if mine else (None, None)
        forms = answers_for(of, boutiques, today=today, chosen=chosen, data=data)
        asks_first = bool(forms.book) and waiting == [of]
        cards.append(_told(of, letter.owner, today) | {"forms": forms, "open": chosen, "asks_first": asks_first})
    all_wrong = wrong if wrong and len(wrong.serials) > 1 else None
    return {
        "letter": letter,
        "subject": _subject(waiting or pieces),
        "cards": cards,
        "together": together(waiting, boutiques, today=today, data=all_wrong.data if all_wrong else None),
    }


def _subject(pieces: list[PieceInLetter]) -> str:
    """As the letter's own subject has it."""
    kinds = {due.kind for of in pieces for due in of.services}
    names = [str(of.piece.model or of.piece.serial) for of in pieces]
    return compose_words.subject(names, kinds) if kinds else _("Your watch and its care")


def _told(of: PieceInLetter, owner: Owner, today: date) -> dict[str, Any]:
    """One piece as its letter tells of it. One statement, for the guarantee."""
    piece = of.piece
    cover = decision_of(piece, today, country=owner.country).cover
    rated = bool(piece.model and piece.model.rated_bar is not None)
    return {
        "piece": piece,
        "services": [
            {
                "what": compose_words.what(due.kind),
                "why": compose_words.why(due, today),
                "caution": compose_words.caution(due),
                "takes": compose_words.takes(due.kind, rated=rated),
            }
            for due in of.services
        ],
        "where": compose_words.where(str(piece.boutique or "")),
        "guarantee": compose_words.guarantee_runs(cover.to_on) if cover else "",
        "answer": answer_in_words(of.answer) if of.answer else "",
    }
