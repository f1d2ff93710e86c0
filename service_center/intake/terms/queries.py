"""Reading the house's table, and what follows from it for one piece."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from service_center.book.models import Boutique, Piece
from service_center.book.rules import Complexity
from service_center.intake.rules import Asked, UsualTerm, promised_day
from service_center.intake.rules.terms import MOST_DAYS, default_term
from service_center.intake.terms.models import TermOfHouse
from service_center.intake.visits.queries import Opening, opening_of
from service_center.workshop.calendars.public_holidays import is_weekend
from service_center.workshop.calendars.queries import public_holidays
from service_center.workshop.models import WorkshopPlace

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

    Days on which the boutique is closed are not counted either. Six statements at most.
    """
    return Days.of(boutique, taken_on).after(taken_on, days)


@dataclass(frozen=True, slots=True)
class Days:
    """The days that a promise counts, and those on which a piece can be handed back."""

    is_worked: Callable[[date], bool]
    is_open: Callable[[date], bool]

    @classmethod
    def of(cls, boutique: Boutique, taken_on: date) -> "Days":
        """Those of a boutique: its region's public holidays, but those on which the workshop works. Six statements."""
        opening = opening_of(boutique, taken_on, taken_on + AHEAD)
        free = opening.public_holidays.keys() - opening.worked

        def is_worked(day: date) -> bool:
            return day not in free and not is_weekend(boutique.country, day) and not _closed(opening, day)

        return cls(is_worked, lambda day: bool(opening.on(day)) if opening.hours else is_worked(day))

    @classmethod
    def of_house(cls, taken_on: date) -> "Days":
        """Those of where the workshop stands, where no boutique is named. Four statements at most."""
        place = WorkshopPlace.objects.first()
        country = place.country if place else ""
        free = {day for day, _name, worked in public_holidays(taken_on, taken_on + AHEAD) if not worked}

        def is_worked(day: date) -> bool:
            return day not in free and not is_weekend(country, day)

        return cls(is_worked, is_worked)

    def after(self, taken_on: date, days: int) -> date:
        """The day so many working days later, or the next one for handing back."""
        return promised_day(taken_on, days, is_worked=self.is_worked, is_open=self.is_open)


def _closed(opening: Opening, day: date) -> bool:
    return any(one.first <= day <= one.last for one in opening.closed)
