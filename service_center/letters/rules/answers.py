"""What makes an answer whole."""

from datetime import date

from service_center.letters.rules.words import AnswerChoice

NEEDS_DAY = {AnswerChoice.BOOKED, AnswerChoice.NOT_NOW, AnswerChoice.DONE_ELSEWHERE}


def fault_of(choice: AnswerChoice, *, has_piece: bool, day: date | None, has_boutique: bool, on: date) -> str:
    """What is wrong with an answer given on a day, as "field: reason"; empty where nothing is."""
    if has_piece is (choice is AnswerChoice.NO_MORE_LETTERS):
        return "piece: this answer is about all letters, not about one piece" if has_piece else "piece: missing"
    if (day is not None) is not (choice in NEEDS_DAY):
        return "day: missing" if day is None else "day: this answer takes none"
    if has_boutique is not (choice is AnswerChoice.BOOKED):
        return "boutique: this answer takes none" if has_boutique else "boutique: missing"
    if day is not None:
        if choice is AnswerChoice.DONE_ELSEWHERE and day > on:
            return "day: it lies in the future"
        if choice is not AnswerChoice.DONE_ELSEWHERE and day < on:
            return "day: it has passed"
    return ""
