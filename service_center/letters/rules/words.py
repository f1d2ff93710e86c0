"""The words of letters.md and outside.md."""

from enum import StrEnum


class Step(StrEnum):
    """Which of the letters about one due date a reminder belongs to."""

    INVITATION = "invitation"
    NUDGE = "nudge"
    LAST = "last"
    YEARLY = "yearly"


class LetterSort(StrEnum):
    """What a letter is: an invitation to service, word about a visit that was booked, a drop-off's receipt, or word
    about an order in the house."""

    INVITATION = "invitation"
    CONFIRMATION = "confirmation"
    RECEIPT = "receipt"
    ORDER = "order"


class OrderNews(StrEnum):
    """What an owner is told of an order."""

    ESTIMATE = "estimate"  # an estimate waits for their answer
    READY = "ready"  # the piece can be fetched


class VisitNews(StrEnum):
    """What a confirmation tells of a visit."""

    BOOKED = "booked"
    MOVED = "moved"
    CANCELLED = "cancelled"


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


class Channel(StrEnum):
    """How a letter reaches its owner."""

    MAIL = "mail"
    PAPER = "paper"
    TELEPHONE = "telephone"


class Ground(StrEnum):
    """Why letters about paid service may go to an owner (facts.md, 7: ePrivacy Directive, art. 13)."""

    CONSENT = "consent"
    EXISTING_CUSTOMER = "existing_customer"
    WITHDRAWN = "withdrawn"  # the end of any ground before it


class Unusual(StrEnum):
    """Why a round is held for the desk."""

    BEHIND = "behind"
    AHEAD = "ahead"
    MANY = "many"
    RESTORED = "restored"


class RoundDecision(StrEnum):
    """What became of a held round."""

    LET_GO = "let_go"
    TAKEN_BACK = "taken_back"


class LinkPurpose(StrEnum):
    """What a secret opens; one made for one purpose opens nothing else."""

    PAGE = "page"
    STOP = "stop"


class ReportSource(StrEnum):
    """Who said what became of a letter."""

    HAND_OVER = "hand_over"  # the mail server that we handed it to
    MAIL = "mail"  # a report that came back by mail
    PROVIDER = "provider"  # the mail provider's signed call


class FoundInMail(StrEnum):
    """What a message to a return path turned out to be."""

    REPORT = "report"
    NO_LETTER = "no_letter"  # a report, but of no letter of ours; a forged one too
    AUTO_REPLY = "auto_reply"
    NO_REPORT = "no_report"
    UNREADABLE = "unreadable"
    STOP = "stop"  # the owner's own program asks for no more letters (RFC 2369, 3.2)
