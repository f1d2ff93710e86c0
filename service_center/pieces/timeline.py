"""What happened to one piece, newest first: making, sale, work, readings, letters, answers, and who held it."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from service_center.book.models import Custody, HistoryEntry, Piece
from service_center.book.rules import DoneBy, Place, Tightness
from service_center.letters.models import Answer, Reminder
from service_center.letters.rules.words import LetterState
from service_center.measurements.queries import sheets_of
from service_center.measurements.rules import Reading
from service_center.pieces.wording import ANSWERS, ENTRY_KINDS, LETTER_STATES, SERVICE_KINDS, STEPS, TIGHTNESS

NO_BREAK = "\u00a0"


@dataclass(frozen=True, slots=True)
class Moment:
    """One thing on one day, in words. `rank` orders a day; `letter` and `entry` say where its page leads on.

    `struck`: a later entry says that it was otherwise. `to_accept`: work outside that starts nothing yet.
    """

    on: date
    rank: int
    what: str
    details: list[str] = field(default_factory=list)
    note: str = ""
    work: bool = False
    state: str = ""
    state_name: str = ""
    letter: int | None = None
    entry: str = ""
    to_accept: bool = False
    struck: bool = False


def timeline(piece: Piece) -> list[Moment]:
    """Everything on record about one piece. Six statements."""
    moments = [
        *_beginnings(piece),
        *_history(piece),
        *_readings(piece),
        *_letters(piece),
        *_answers(piece),
        *_moves(piece),
    ]
    return sorted(moments, key=lambda moment: (moment.on, moment.rank), reverse=True)


def _beginnings(piece: Piece) -> Iterator[Moment]:
    if piece.made_on:
        yield Moment(piece.made_on, 0, _("Made"))
    if piece.sold_on:
        where = [_("at %(boutique)s") % {"boutique": piece.boutique}] if piece.boutique else []
        yield Moment(piece.sold_on, 1, _("Sold"), where)
    if piece.extension_enrolled_on:
        yield Moment(piece.extension_enrolled_on, 2, _("Extended guarantee registered"))


def _history(piece: Piece) -> Iterator[Moment]:
    entries = list(HistoryEntry.objects.filter(piece=piece).select_related("voids").order_by("pk"))
    voided = {entry.voids_id for entry in entries}
    return (_work(entry, struck=entry.pk in voided) for entry in entries)


def _work(entry: HistoryEntry, *, struck: bool) -> Moment:
    outside, says_never = entry.done_by != DoneBy.OWN, _says_never(entry)
    return Moment(
        entry.done_on,
        5,
        _("%(kind)s: never happened") % {"kind": ENTRY_KINDS[entry.kind]}
        if says_never
        else str(ENTRY_KINDS[entry.kind]),
        [_("corrects an earlier entry")] if says_never else list(_said_of(entry, outside=outside, struck=struck)),
        note=entry.note,
        work=not says_never,
        entry="" if struck or says_never else entry.code,
        to_accept=outside and not entry.accepted and not struck and not says_never,
        struck=struck,
    )


def _says_never(entry: HistoryEntry) -> bool:
    """As `book.actions.strike_entry` writes it: of the same day and kind, that nothing was done."""
    wrong = entry.voids
    return (
        wrong is not None
        and (wrong.kind, wrong.done_on) == (entry.kind, entry.done_on)
        and (entry.done_by, entry.accepted, entry.case_opened) == (DoneBy.OUTSIDE, False, False)
    )


def _said_of(entry: HistoryEntry, *, outside: bool, struck: bool) -> Iterator[str]:
    if struck:
        yield _("corrected by a later entry")
    if entry.voids:
        day = entry.voids.done_on
        yield _("corrects the entry of %(day)s") % {"day": f"{day.day} {day:%b %Y}"}
    if outside:
        yield _("outside, a document was seen") if entry.accepted else _("outside, not accepted")
    else:
        yield _("our own workshop")
    if entry.case_opened:
        yield _("case opened")
    if entry.tightness and entry.tightness != Tightness.NOT_TESTED:
        yield _("tightness: %(result)s") % {"result": str(TIGHTNESS[entry.tightness]).lower()}


def _readings(piece: Piece) -> Iterator[Moment]:
    for sheet, readings in sheets_of(piece):
        count = len(readings)
        what = ngettext("Timing, %(count)d reading", "Timing, %(count)d readings", count) % {"count": count}
        yield Moment(sheet.taken_on, 4, what, [_reading(one) for one in readings], note=sheet.remark)


def _reading(reading: Reading) -> str:
    """6H +4.5 s/d 281° 0.20 ms; what was not read is left out. A wind state other than full is named."""
    parts = [reading.position if reading.wind.value == "full" else f"{reading.position} ({reading.wind.value})"]
    if reading.rate is not None:
        parts.append(f"{reading.rate:+.1f} s/d".replace("-", "−"))
    if reading.amplitude is not None:
        parts.append(f"{reading.amplitude:.0f}°")
    if reading.beat_error is not None:
        parts.append(f"{reading.beat_error:.2f} ms")
    return " ".join(parts).replace(" ", NO_BREAK)


def _letters(piece: Piece) -> Iterator[Moment]:
    for reminder in Reminder.objects.filter(piece=piece).select_related("letter"):
        letter = reminder.letter
        state = LetterState.ENDED.value if reminder.ended_on else letter.state
        yield Moment(
            timezone.localdate(letter.sent_at) if letter.sent_at else reminder.ended_on or letter.planned_on,
            6,
            _("Letter: %(step)s, %(kind)s")
            % {"step": str(STEPS[reminder.step]).lower(), "kind": str(SERVICE_KINDS[reminder.kind]).lower()},
            [reminder.ended_because] if reminder.ended_because else [],
            state=state,
            state_name=str(LETTER_STATES[state]),
            letter=letter.pk,
        )


def _answers(piece: Piece) -> Iterator[Moment]:
    for answer in Answer.objects.filter(piece=piece).select_related("boutique"):
        details = []
        if answer.day:
            details.append(f"{answer.day.day} {answer.day:%b %Y}")
        if answer.boutique:
            details.append(str(answer.boutique))
        yield Moment(
            answer.said_on, 7, _("Answer: %(answer)s") % {"answer": str(ANSWERS[answer.choice]).lower()}, details
        )


def _moves(piece: Piece) -> Iterator[Moment]:
    for move in Custody.objects.filter(piece=piece).select_related("boutique"):
        match move.place:
            case Place.BOUTIQUE:
                what = _("Taken in at %(boutique)s") % {"boutique": move.boutique}
            case Place.WORKSHOP:
                what = _("Came to the workshop")
            case _other:
                what = _("Handed back to the owner")
        yield Moment(timezone.localdate(move.since), 8 if move.place == Place.OWNER else 3, what)
