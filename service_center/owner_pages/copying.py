"""All that the house holds about one owner, as plain values: what a copy of their data is made of (GDPR, Art. 15, 20).

Nothing of other owners: of a piece that changed hands, only what happened in this owner's time. Left out, and said so
in the copy: the names of staff, and remarks that were written for the workshop, which may speak of others (Art. 15(4)).
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.db.models import Q

from service_center.access.models import Trail
from service_center.book.models import Custody, HistoryEntry, Owner, Piece
from service_center.guarantee.models import ExtensionEnrolment
from service_center.intake.models import DropOff, Visit, VisitPiece
from service_center.letters.models import (
    Answer,
    LetterGround,
    Reminder,
    StoppedAddress,
)
from service_center.letters.queries.grounds import grounds_of
from service_center.measurements.models import TimingSheet
from service_center.measurements.queries import sheets_of
from service_center.measurements.rules import Reading
from service_center.owner_pages.copying_letters import letters_told
from service_center.owner_pages.copying_orders import orders_told
from service_center.owner_pages.models import EmailChange, OwnerRequest
from service_center.owner_pages.queries import day_of_move, own_times, postal_address_of, requests_of, work_on
from service_center.owner_pages.rules import OwnTime
from service_center.workshop.models import WorkOrder

Record = dict[str, Any]

GROUNDS = {
    "watches_and_work": "Contract and guarantee: GDPR, Art. 6(1)(b).",
    "keeping_records": "Legal duties and the defence of claims: GDPR, Art. 6(1)(c) and (f).",
    "letters": "Your consent, or that you are our customer: GDPR, Art. 6(1)(a) and (f). You can stop them at any time.",
}
LEFT_OUT = [
    "names of members of staff",
    "remarks that were written for the workshop: ask at the service desk, and a person looks through them",
]


def copy_of(owner: Owner, *, now: datetime) -> Record:
    """The whole copy, ready for JSON. Some twenty statements, and one for each piece's readings."""
    own = list(Piece.objects.filter(owner=owner).select_related("model", "boutique").order_by("serial"))
    drop_offs = list(DropOff.objects.filter(owner=owner).select_related("boutique", "piece", "sheet").order_by("pk"))
    former = former_pieces(owner)
    times = own_times(owner, [*own, *former])
    work = work_on([*own, *former])
    return {
        "made_at": now.isoformat(timespec="seconds"),
        "house": settings.HOUSE_NAME,
        "legal_grounds": GROUNDS,
        "left_out": LEFT_OUT,
        "owner": _owner(owner),
        "watches": [_piece(one, times.get(one.pk), work[one.pk], still=True) for one in own],
        "watches_before": [_piece(one, times.get(one.pk), work[one.pk], still=False) for one in former],
        "letter_grounds": [_ground(one) for one in grounds_of(owner)],
        "letters": letters_told(owner),
        "answers": [_answer(one) for one in _answers(owner)],
        "visits": _visits(owner),
        "drop_offs": [_drop_off(one) for one in drop_offs],
        "orders": orders_told(owner),
        "requests": [_request(one) for one in requests_of(owner)],
        "email_changes": [_email_change(one) for one in email_changes_of(owner)],
        "changes": [_change(one) for one in changes_of(owner)],
    }


def former_pieces(owner: Owner) -> list[Piece]:
    """Pieces that were the owner's, as far as their own records tell, and are not now."""
    told = Answer.objects.filter(owner=owner).exclude(piece=None).values("piece")
    written = Reminder.objects.filter(letter__owner=owner, ended_on=None).values("piece")
    brought = DropOff.objects.filter(owner=owner).values("piece")
    ordered = WorkOrder.objects.filter(owner=owner).values("piece")
    theirs = Q(pk__in=told) | Q(pk__in=written) | Q(pk__in=brought) | Q(pk__in=ordered)
    pieces = Piece.objects.filter(theirs).exclude(owner=owner).select_related("model", "boutique")
    return list(pieces.order_by("serial"))


def email_changes_of(owner: Owner) -> list[EmailChange]:
    """The e-mail addresses that an owner gave. One statement."""
    return list(EmailChange.objects.filter(owner=owner).select_related("owner", "letter").order_by("pk"))


def changes_of(owner: Owner) -> list[Trail]:
    """What the trail keeps under the owner's number. One statement, by index."""
    return list(Trail.objects.filter(subject=f"owner:{owner.code}").order_by("at", "pk"))


def _owner(owner: Owner) -> Record:
    stopped = StoppedAddress.objects.filter(email=owner.email.lower()).first() if owner.email else None
    return {
        "number": owner.code,
        "name": owner.name,
        "email": owner.email,
        "email_stopped_since": _moment(stopped.stopped_at) if stopped else None,
        "telephone": owner.phone,
        "postal_address": postal_address_of(owner).splitlines(),
        "language": owner.language,
        "country": owner.country,
        "time_zone": owner.time_zone,
        "letters": owner.letters,
    }


def _piece(piece: Piece, time: OwnTime | None, work: Sequence[HistoryEntry], *, still: bool) -> Record:
    record = {
        "serial": piece.serial,
        "model": str(piece.model) if piece.model else "",
        "reference": piece.model.reference if piece.model else "",
        "work": [_entry(one) for one in work if time and time.holds(one.done_on)],
        "readings": _readings(piece, time),
    }
    if not still:
        return record
    moves = Custody.objects.filter(piece=piece).select_related("boutique").order_by("pk")
    enrolment = ExtensionEnrolment.objects.filter(piece=piece, owner=piece.owner).first()
    return record | {
        "sold_on": _day(piece.sold_on),
        "boutique": str(piece.boutique or ""),
        "use": piece.use,
        "status": piece.status,
        "place": piece.place,
        "extension_enrolled_on": _day(piece.extension_enrolled_on),
        "extension_conditions": enrolment.conditions.splitlines() if enrolment else [],
        "moves": [
            {"at": _moment(one.since), "to": one.place, "boutique": str(one.boutique or "")}
            for one in moves
            if time and time.holds(day_of_move(one, piece))
        ],
    }


def _entry(entry: HistoryEntry) -> Record:
    return {
        "done_on": _day(entry.done_on),
        "kind": entry.kind,
        "done_by": entry.done_by,
        "case_opened": entry.case_opened,
        "tightness": entry.tightness,
        "document_seen": entry.accepted,
    }


def _readings(piece: Piece, time: OwnTime | None) -> list[Record]:
    return [_sheet(sheet, readings) for sheet, readings in sheets_of(piece) if time and time.holds(sheet.taken_on)]


def _sheet(sheet: TimingSheet, readings: Iterable[Reading]) -> Record:
    return {
        "taken_on": _day(sheet.taken_on),
        "readings": [
            {
                "position": one.position,
                "wind": one.wind.value,
                "rate_seconds_a_day": _number(one.rate),
                "amplitude_degrees": _number(one.amplitude),
                "beat_error_milliseconds": _number(one.beat_error),
            }
            for one in readings
        ],
    }


def _ground(one: LetterGround) -> Record:
    return {
        "on": _day(one.on),
        "ground": one.ground,
        "wording": one.wording,
        "recorded_at": _moment(one.recorded_at),
    }


def _answers(owner: Owner) -> Iterable[Answer]:
    return Answer.objects.filter(owner=owner).select_related("piece", "boutique").order_by("pk")


def _answer(one: Answer) -> Record:
    return {
        "said_on": _day(one.said_on),
        "choice": one.choice,
        "serial": one.piece.serial if one.piece else "",
        "day": _day(one.day),
        "boutique": str(one.boutique or ""),
        "letter": one.letter_id,
    }


def _visits(owner: Owner) -> list[Record]:
    brings: dict[int, list[str]] = {}
    for coming in VisitPiece.objects.filter(visit__owner=owner).select_related("piece").order_by("piece__serial"):
        brings.setdefault(coming.visit_id, []).append(coming.piece.serial)
    visits = Visit.objects.filter(owner=owner).select_related("boutique").prefetch_related("deeds").order_by("pk")
    return [
        {
            "boutique": str(one.boutique),
            "day": _day(one.day),
            "time": f"{one.at:%H:%M}",
            "time_zone": one.zone,
            "state": one.state,
            "serials": brings.get(one.pk, []),
            "deeds": [
                {"at": _moment(deed.done_at), "deed": deed.deed} for deed in sorted(one.deeds.all(), key=lambda d: d.pk)
            ],
        }
        for one in visits
    ]


def _drop_off(one: DropOff) -> Record:
    return {
        "number": one.number,
        "serial": one.piece.serial,
        "boutique": str(one.boutique),
        "taken_on": _day(one.taken_on),
        "you_said": one.owner_says,
        "asked": one.asked,
        "left_with_it": one.left_with,
        "guarantee": one.guarantee,
    }


def _request(one: OwnerRequest) -> Record:
    return {
        "asked_at": _moment(one.asked_at),
        "kind": one.kind,
        "said": one.said,
        "state": one.state,
        "answer_by": _day(one.due_on),
        "decided_at": _moment(one.decided_at),
        "reason": one.reason,
    }


def _email_change(one: EmailChange) -> Record:
    return {
        "asked_at": _moment(one.asked_at),
        "before": one.before,
        "email": one.email,
        "confirmed_at": _moment(one.confirmed_at),
        "withdrawn_at": _moment(one.withdrawn_at),
    }


def _change(one: Trail) -> Record:
    return {"at": _moment(one.at), "what": one.deed, "before": one.before, "after": one.after}


def _day(day: date | None) -> str | None:
    return day.isoformat() if day else None


def _moment(moment: datetime | None) -> str | None:
    return moment.isoformat(timespec="seconds") if moment else None


def _number(value: Any) -> float | None:
    return None if value is None else float(value)
