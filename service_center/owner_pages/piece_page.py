"""What the page of one piece is made of: where it is, its guarantee, what was done to it, and its papers."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from service_center.book.models import Custody, HistoryEntry, Owner, Piece
from service_center.book.rules import Place, Tightness
from service_center.book.wording import listed
from service_center.guarantee import words as guarantee_words
from service_center.guarantee.queries import decision_of, terms_of
from service_center.guarantee.rules import Decision, Enrolment, EnrolmentState, Reason, enrolment_on
from service_center.intake.models import DropOff
from service_center.intake.papers import rows_of
from service_center.intake.wording import ASKED
from service_center.letters.calendars import zone_of
from service_center.letters.models import Letter
from service_center.measurements.queries import sheets_of
from service_center.measurements.rules import Reading
from service_center.owner_pages.order_page import open_order_told
from service_center.owner_pages.piece_papers import papers_of
from service_center.owner_pages.piece_words import KINDS, rate_in_words, reading_in_words, where_in_words, work_in_words
from service_center.owner_pages.queries import day_of_move, drop_offs_of, not_given_back, own_times, work_on
from service_center.owner_pages.rules import OwnTime


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing that happened to a piece, in words. `rank` orders a day; `work` stands out."""

    on: date
    rank: int
    what: str
    details: list[str] = field(default_factory=list)
    readings: list[dict[str, Any]] = field(default_factory=list)
    work: bool = False


def context_of(letter: Letter, piece: Piece, today: date) -> dict[str, Any]:
    """What the template shows. At most thirty-five statements, however much happened."""
    drop_offs = list(drop_offs_of(letter.owner, [piece]))
    time = own_times(letter.owner, [piece])[piece.pk]
    decision = decision_of(piece, today, country=letter.owner.country)
    enrolment = enrolment_of(piece, today)
    return {
        "letter": letter,
        "piece": piece,
        "where": where_is(piece, letter.owner),
        "here": not_given_back(drop_offs_of(letter.owner, [piece])),
        "order": open_order_told(letter.owner, piece, today),
        "guarantee": guarantee_words.name_of(decision.covered_by),
        "guarantee_because": guarantee_words.sentence(decision),
        # That it can be extended is said beside the button.
        "guarantee_notes": guarantee_words.notes(decision, extension=False),
        "statutory": guarantee_words.statutory_note(),
        "extension": enrolment.state.value,
        "extension_said": _extension_said(piece, enrolment, decision),
        "conditions": conditions_of(piece, enrolment) if enrolment.state is EnrolmentState.OPEN else [],
        "happenings": happenings(piece, time, drop_offs, work_on([piece])[piece.pk]),
        "papers": papers_of(letter.owner, piece, drop_offs),
    }


def _extension_said(piece: Piece, enrolment: Enrolment, decision: Decision) -> str:
    """Where it stands with the extension; empty where the sentence on the guarantee says that it is over already."""
    if enrolment.state is EnrolmentState.ENROLLED and decision.reason is Reason.EXTENSION_OVER:
        return ""
    return guarantee_words.enrolment_sentence(enrolment, piece.extension_enrolled_on)


def enrolment_of(piece: Piece, today: date) -> Enrolment:
    """Where the piece stands with the extension. One statement."""
    return enrolment_on(today, sold_on=piece.sold_on, enrolled_on=piece.extension_enrolled_on, terms=terms_of(piece))


def conditions_of(piece: Piece, enrolment: Enrolment) -> list[str]:
    """What the owner agrees to, as the page says it and as it is kept."""
    rated = bool(piece.model and piece.model.rated_bar is not None)
    return [*guarantee_words.extension_conditions(enrolment, rated=rated), guarantee_words.statutory_note()]


def where_is(piece: Piece, owner: Owner) -> str:
    """Where a piece is now, from the latest move. One statement."""
    move = Custody.objects.filter(piece=piece).select_related("boutique").order_by("-pk").first()
    if move is None or move.place != piece.place:  # a book that was read in names the place alone
        return where_in_words(Place(piece.place), since=None, boutique="")
    # By the clock of the boutique that took it in, as on the receipt; of the workshop's, by the owner's.
    since = move.since.astimezone(zone_of(move.boutique.time_zone if move.boutique else "", owner.time_zone))
    return where_in_words(Place(piece.place), since=since.date(), boutique=str(move.boutique or ""))


def happenings(
    piece: Piece, time: OwnTime, drop_offs: Sequence[DropOff], work: Sequence[HistoryEntry]
) -> list[Happening]:
    """What happened to a piece, newest first.

    The work on it is told whole, since it belongs to the watch; readings and moves only of its owner's own time.
    """
    found = [*_work(work), *_taken_in(drop_offs), *_readings(piece, time), *_given_back(piece, time)]
    if piece.sold_on:
        where = [_("At %(boutique)s.") % {"boutique": piece.boutique}] if piece.boutique else []
        found.append(Happening(piece.sold_on, 0, _("Sold new"), where))
    if piece.extension_enrolled_on and _was_enrolled(piece) and time.holds(piece.extension_enrolled_on):
        found.append(Happening(piece.extension_enrolled_on, 1, _("Extended guarantee registered")))
    return sorted(found, key=lambda one: (one.on, one.rank), reverse=True)


def _was_enrolled(piece: Piece) -> bool:
    """Whether the day that the book has is one on which the extension could be had."""
    on = piece.extension_enrolled_on
    return on is not None and enrolment_of(piece, on).state is EnrolmentState.ENROLLED


def _work(entries: Sequence[HistoryEntry]) -> Iterator[Happening]:
    """`entries`: the latest first."""
    passed = False
    for entry in entries:
        said = work_in_words(entry, passed_since=passed)
        passed = passed or entry.tightness == Tightness.PASSED
        yield Happening(entry.done_on, 4, str(KINDS[entry.kind]), said, work=True)


def _taken_in(drop_offs: Sequence[DropOff]) -> Iterator[Happening]:
    for one in drop_offs:
        details = [_("At %(boutique)s.") % {"boutique": one.boutique}]
        if one.asked:
            asked = listed(str(ASKED[service]) for service in one.asked)
            details.append(_("You asked for: %(services)s.") % {"services": asked})
        yield Happening(one.taken_on, 2, _("You brought it to us"), details)


def _readings(piece: Piece, time: OwnTime) -> Iterator[Happening]:
    for sheet, readings in sheets_of(piece):
        if time.holds(sheet.taken_on) and readings:
            said = rate_in_words(readings)
            yield Happening(sheet.taken_on, 3, _("Its rate was read"), [said] if said else [], _rows(readings))


def _rows(readings: Sequence[Reading]) -> list[dict[str, Any]]:
    """Each reading in words."""
    return [{"position": row.position, "wind": row.wind, "said": reading_in_words(row)} for row in rows_of(readings)]


def _given_back(piece: Piece, time: OwnTime) -> Iterator[Happening]:
    moves = Custody.objects.filter(piece=piece, place=Place.OWNER).select_related("boutique")
    for move in moves:
        day = day_of_move(move, piece)
        if time.holds(day):
            yield Happening(day, 5, _("Handed back to you"))
