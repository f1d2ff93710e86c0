"""What the page of a letter is made of: its pieces as the letter tells of them, and the answers it takes."""

from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.http import QueryDict
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from service_center.intake.visits.models import Visit
from service_center.intake.visits.queries import coming_visits
from service_center.letters.composing.letter import LetterContent, subject_of, told_of
from service_center.letters.models import Letter
from service_center.letters.queries.contents import contents_of
from service_center.letters.rules.words import AnswerChoice
from service_center.owner_pages.forms import answers_for, together
from service_center.owner_pages.queries import PieceAsked, changed_hands, pieces_of, who_receives
from service_center.owner_pages.wording import answer_in_words, visit_in_words


@dataclass(frozen=True, slots=True)
class Wrong:
    """An answer that could not be taken: what was sent, so that the owner need not type it again."""

    serials: frozenset[str]
    choice: AnswerChoice
    data: QueryDict


def context_of(letter: Letter, today: date, now: datetime, wrong: Wrong | None = None) -> dict[str, Any]:
    """What the template shows. One filled button: on the only piece that waits for an answer, or for all of them."""
    pieces = pieces_of(letter, today)
    # What the letter told, and nothing that became known since; in the language that its owner reads now.
    content = contents_of([letter], now=now, language=get_language())[letter.pk]
    told = {piece.serial: told_of(piece, content.as_of, content.wording) for piece in content.pieces}
    receiving = who_receives(letter.owner, pieces)
    boutiques, by_hour = receiving.by_day, bool(receiving.by_hour)
    visits = coming_visits(letter.owner, [of.piece for of in pieces], now)
    waiting = [of for of in pieces if of.services and of.answer is None]
    cards = []
    for of in pieces:
        mine = wrong if wrong and wrong.serials == {of.piece.serial} else None
        chosen, data = (mine.choice, mine.data) if mine else (None, None)
        forms = answers_for(of, boutiques, today=today, chosen=chosen, data=data)
        cards.append(
            told[of.piece.serial]
            | {
                "piece": of.piece,
                "asks": bool(of.services),
                "answer": _answer(of, visits.get(of.piece.pk), today),
                "visit": visits.get(of.piece.pk),
                "forms": forms,
                "open": chosen,
                "by_hour": by_hour,
                "asks_first": (by_hour or bool(forms.book)) and waiting == [of],
            }
        )
    all_wrong = wrong if wrong and len(wrong.serials) > 1 else None
    return {
        "letter": letter,
        "subject": _subject(content, [of for of in pieces if of.services]),
        "cards": cards,
        "gone": 0 if cards else changed_hands(letter),
        "together_by_hour": waiting if by_hour and len(waiting) > 1 else [],
        "together": together(waiting, boutiques, today=today, data=all_wrong.data if all_wrong else None),
    }


def _answer(of: PieceAsked, visit: Visit | None, today: date) -> str:
    """What stands of a piece: a visit that is still to come, else the latest answer."""
    if visit:
        return visit_in_words(visit, coming=True)
    return answer_in_words(of.answer, today) if of.answer else ""


def _subject(content: LetterContent, pieces: list[PieceAsked]) -> str:
    """The letter's own subject, as far as it still asks."""
    asked = {of.piece.serial: {due.kind for due in of.services} for of in pieces}
    still = tuple(
        replace(piece, services=tuple(one for one in piece.services if one.due.kind in asked[piece.serial]))
        for piece in content.pieces
        if piece.serial in asked
    )
    return subject_of(replace(content, pieces=still)) if still else _("Your watch and its care")
