"""What owners said of pieces since letters about them were written."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from service_center.letters.models import Answer, Letter
from service_center.letters.rules.steps import Said, keeps_back
from service_center.letters.rules.words import AnswerChoice


@dataclass(frozen=True, slots=True)
class LastWords:
    """The latest word of each owner on each piece, and when it was written down."""

    words: dict[tuple[int, int], tuple[Said, datetime]]

    def keeping_back(self, letter: Letter, piece: int, on: date) -> AnswerChoice | None:
        """The word since a letter was written that keeps a piece out of it on a day, if there is one."""
        said, at = self.words.get((letter.owner_id, piece), (None, letter.written_at))
        return said.choice if said and at > letter.written_at and keeps_back(said, on) else None


def last_words(pieces: Collection[int], *, since: datetime) -> LastWords:
    """What was written down of some pieces since a moment. One statement, none for no pieces.

    A word while its letter waits, is held or was refused ends the reminder at once (actions.answering). This finds what
    was said while a sender had the letter, and while it was in doubt.
    """
    words: dict[tuple[int, int], tuple[Said, datetime]] = {}
    if not pieces:
        return LastWords(words)
    rows = Answer.objects.filter(piece_id__one_of=pieces, recorded_at__gt=since).order_by("said_on", "pk")
    for owner, piece, choice, said_on, day, at in rows.values_list(
        "owner_id", "piece_id", "choice", "said_on", "day", "recorded_at"
    ):
        if piece is not None:
            words[owner, piece] = Said(AnswerChoice(choice), said_on, day), at
    return LastWords(words)
