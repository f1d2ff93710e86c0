"""What happened to one piece, newest first: sale, work, readings, letters, answers, who held it, and corrections."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from service_center.book.models import Piece
from service_center.pieces.timeline.beginnings import beginnings
from service_center.pieces.timeline.letters import letters_and_answers
from service_center.pieces.timeline.moment import Moment, Sort
from service_center.pieces.timeline.moves import moves
from service_center.pieces.timeline.readings import readings
from service_center.pieces.timeline.trail import changes, reasons_of_corrections, trail_of
from service_center.pieces.timeline.work import work

__all__ = ["Moment", "Sort", "Timeline", "timeline"]


@dataclass(frozen=True, slots=True)
class Timeline:
    """Moments dated up to the day of the question, and those dated after it; each newest first."""

    known: list[Moment]
    later: list[Moment]

    def sorts(self) -> set[Sort]:
        """What there is to choose among."""
        return {sort for moment in (*self.known, *self.later) for sort in moment.sorts}

    def of(self, sort: Sort | None) -> "Timeline":
        """Only moments of one sort; all of them for None."""
        return Timeline(_of(self.known, sort), _of(self.later, sort))


def timeline(piece: Piece, as_of: date) -> Timeline:
    """Everything on record about one piece, as it was known on a day. Seven statements.

    What is dated after the day stands apart, and what it corrects is not yet struck.
    """
    trail = trail_of(piece)
    reasons = reasons_of_corrections(trail)
    moments = [
        *beginnings(piece),
        *work(piece, as_of, reasons),
        *readings(piece, as_of, reasons),
        *letters_and_answers(piece, as_of),
        *moves(piece),
        *changes(trail),
    ]
    moments.sort(key=lambda moment: (moment.on, moment.rank), reverse=True)
    return Timeline(
        [moment for moment in moments if moment.on <= as_of], [moment for moment in moments if moment.on > as_of]
    )


def _of(moments: Iterable[Moment], sort: Sort | None) -> list[Moment]:
    return [moment for moment in moments if sort is None or sort in moment.sorts]
