"""The guarantee of a piece in the book."""

from collections.abc import Callable
from datetime import date

import holidays

from service_center.book.models import HistoryEntry, Piece
from service_center.book.rules import DoneBy, EntryKind
from service_center.guarantee.rules import Decision, Work, cover


def decision_of(piece: Piece, as_of: date, *, country: str) -> Decision:
    """What covers a piece on a day. `country` (ISO 3166, may be empty) decides the working days. One statement.

    A wrong entry stops counting on the day of the one that corrects it.
    """
    rows = HistoryEntry.objects.filter(piece=piece, done_on__lte=as_of).exclude(corrections__done_on__lte=as_of)
    history = [
        Work(
            done_on=done_on,
            kind=EntryKind(kind),
            case_opened=bool(case_opened),
            done_by=DoneBy(done_by) if done_by else DoneBy.OUTSIDE,
        )
        for done_on, kind, case_opened, done_by in rows.values_list("done_on", "kind", "case_opened", "done_by")
    ]
    return cover(
        sold_on=piece.sold_on,
        extension_enrolled_on=piece.extension_enrolled_on,
        history=history,
        as_of=as_of,
        is_working_day=working_days(country),
    )


def working_days(country: str) -> Callable[[date], bool]:
    """Whether a day is worked in a country: no Saturday, no Sunday, no public holiday (Regulation 1182/71, Art. 2).

    Weekends alone where the holidays of the country are not known.
    """
    known = holidays.country_holidays(country) if country in holidays.list_supported_countries() else {}
    return lambda day: day.weekday() < 5 and day not in known
