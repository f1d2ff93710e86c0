"""Reading the house's table, and what follows from it for one piece."""

from datetime import date, timedelta

from service_center.book.models import Boutique, Piece
from service_center.book.rules import Complexity
from service_center.intake.rules import Asked, UsualTerm, promised_day
from service_center.intake.rules.terms import MOST_DAYS, default_term
from service_center.intake.terms.models import TermOfHouse
from service_center.intake.visits.queries import Opening, opening_of
from service_center.letters.calendars import working_days

# Room for the working days of the longest promise, and for a boutique that stays closed for weeks after it.
AHEAD = timedelta(days=2 * MOST_DAYS)
# A piece whose calibre is not known is promised, and priced, as the usual one.
USUAL = Complexity.AUTOMATIC

Table = dict[tuple[Asked, Complexity], UsualTerm]


def table() -> Table:
    """The whole table: what the desk wrote, and the defaults elsewhere. One statement."""
    written = {
        (Asked(row.asked), Complexity(row.complexity)): UsualTerm(row.days, row.price)
        for row in TermOfHouse.objects.all()
    }
    return {
        (asked, complexity): written.get((asked, complexity)) or default_term(asked, complexity)
        for asked in Asked
        for complexity in Complexity
    }


def complexity_of(piece: Piece) -> Complexity:
    """The complexity that the table is read at."""
    calibre = piece.model.calibre if piece.model else None
    return Complexity(calibre.complexity) if calibre and calibre.complexity else USUAL


def terms_for(piece: Piece) -> dict[Asked, UsualTerm]:
    """The table's line for each kind of work on this piece. One statement."""
    complexity = complexity_of(piece)
    return {asked: term for (asked, of), term in table().items() if of is complexity}


def usual_day(boutique: Boutique, taken_on: date, days: int) -> date:
    """The house's promise: so many working days of the boutique's country, on a day when the boutique is open.

    Days on which the boutique is closed are not counted either. Four statements.
    """
    opening = opening_of(boutique, taken_on, taken_on + AHEAD)
    worked_there = working_days(boutique.country)
    return promised_day(
        taken_on,
        days,
        is_worked=lambda day: worked_there(day) and not _closed(opening, day),
        is_open=lambda day: bool(opening.on(day)) if opening.hours else worked_there(day) and not _closed(opening, day),
    )


def _closed(opening: Opening, day: date) -> bool:
    return any(one.first <= day <= one.last for one in opening.closed)
