"""The guarantee of a piece in the book."""

from collections.abc import Callable
from datetime import date

import holidays
from django.db.models import Q, QuerySet

from service_center.book.models import HistoryEntry, Piece
from service_center.book.rules import DoneBy, EntryKind, Tightness
from service_center.guarantee.models import CoverDecision, FindingCover, HouseTerms
from service_center.guarantee.rules import (
    HOUSE_TABLE,
    HOUSE_TERMS,
    DatedTerms,
    Decision,
    Finding,
    Row,
    Table,
    Terms,
    Work,
    cover,
    terms_on,
)


def decision_of(piece: Piece, as_of: date, *, country: str) -> Decision:
    """What covers a piece on a day. `country` (ISO 3166, may be empty) decides the working days. Two statements.

    A wrong entry stops counting on the day of the one that corrects it. `piece.model` is fetched with the piece.
    """
    rows = HistoryEntry.objects.filter(piece=piece, done_on__lte=as_of).exclude(corrections__done_on__lte=as_of)
    history = [
        Work(
            done_on=done_on,
            kind=EntryKind(kind),
            case_opened=bool(case_opened),
            done_by=DoneBy(done_by) if done_by else DoneBy.OUTSIDE,
            passed_check=tightness == Tightness.PASSED and (done_by == DoneBy.OWN or bool(accepted)),
        )
        for done_on, kind, case_opened, done_by, tightness, accepted in rows.values_list(
            "done_on", "kind", "case_opened", "done_by", "tightness", "accepted"
        )
    ]
    return cover(
        sold_on=piece.sold_on,
        extension_enrolled_on=piece.extension_enrolled_on,
        history=history,
        as_of=as_of,
        is_working_day=working_days(country),
        dated=dated_terms(),
        rated=bool(piece.model and piece.model.rated_bar),
    )


def dated_terms() -> list[DatedTerms]:
    """The house's terms over time, the earliest first. One statement."""
    return [
        DatedTerms(
            row.from_on,
            Terms(row.base_months, row.extended_months, row.work_months, row.check_months),
        )
        for row in HouseTerms.objects.order_by("from_on", "pk")
    ]


def terms_of(piece: Piece) -> Terms:
    """What was promised when the piece was sold. One statement."""
    return terms_on(piece.sold_on, dated_terms()) if piece.sold_on else HOUSE_TERMS


def house_table() -> Table:
    """The house's table of findings: its own rows over the usual ones. One statement."""
    own = {
        Finding(row.finding): Row(row.base, row.extension, row.work, row.reason) for row in FindingCover.objects.all()
    }
    return {**HOUSE_TABLE, **own}


def decisions_of(piece: Piece) -> QuerySet[CoverDecision]:
    """What staff decided of a piece's findings, the latest first. One statement."""
    return CoverDecision.objects.filter(piece=piece).select_related("decided_by").order_by("-pk")


def last_check_of(piece: Piece, as_of: date) -> date | None:
    """The day of the last tightness check that passed and counts, up to a day. One statement."""
    return (
        HistoryEntry.objects.filter(piece=piece, done_on__lte=as_of, tightness=Tightness.PASSED.value)
        .filter(Q(done_by=DoneBy.OWN.value) | Q(accepted=True))
        .exclude(corrections__done_on__lte=as_of)
        .order_by("-done_on")
        .values_list("done_on", flat=True)
        .first()
    )


def working_days(country: str) -> Callable[[date], bool]:
    """Whether a day is worked in a country: no Saturday, no Sunday, no public holiday (Regulation 1182/71, Art. 2).

    Weekends alone where the holidays of the country are not known.
    """
    known = holidays.country_holidays(country) if country in holidays.list_supported_countries() else {}
    return lambda day: day.weekday() < 5 and day not in known
