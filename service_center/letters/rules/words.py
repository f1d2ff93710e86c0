"""The words of letters.md and outside.md."""

from enum import StrEnum


class Step(StrEnum):
    """Which of the letters about one due date a reminder belongs to."""

    INVITATION = "invitation"
    NUDGE = "nudge"


class LetterState(StrEnum):
    """Where a letter stands (outside.md, list_letters)."""

    WAITING = "waiting"
    HANDING_OVER = "handing_over"
    AT_THE_DOT = "at_the_dot"
    SENT = "sent"
    IN_DOUBT = "in_doubt"
    REFUSED = "refused"
    HELD = "held"
    ENDED = "ended"


class AnswerChoice(StrEnum):
    """What an owner can say (letters.md, words)."""

    BOOKED = "booked"
    NOT_NOW = "not_now"
    DONE_ELSEWHERE = "done_elsewhere"
    NO_LONGER_MINE = "no_longer_mine"
    NO_MORE_LETTERS = "no_more_letters"


class LinkPurpose(StrEnum):
    """What a secret opens; one made for one purpose opens nothing else."""

    PAGE = "page"
    STOP = "stop"
