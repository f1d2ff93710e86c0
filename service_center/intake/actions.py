"""Taking a piece in."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, TypedDict
from uuid import UUID

from django.db import transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.actions import move_piece
from service_center.book.models import Boutique, Piece
from service_center.book.rules import Place, Status
from service_center.guarantee.queries import decision_of
from service_center.intake.drafts.models import Draft
from service_center.intake.models import DropOff, Signature
from service_center.intake.rules import ORDERED, Asked, Noted, Stop, number_of, stop_for
from service_center.intake.rules.strokes import Stroke
from service_center.intake.signing.drawing import drawn
from service_center.intake.signing.statement import sha256_of
from service_center.intervals.actions import recompute
from service_center.letters.actions import end_reminders
from service_center.measurements.actions import begin_run, record_sheet
from service_center.measurements.models import TimingSheet
from service_center.measurements.rules import Reading
from service_center.measurements.rules.tightness import TightnessTest
from service_center.pieces.tested import Tested, add_result
from service_center.workshop.orders.actions import open_order


class NotTakenInError(Exception):
    """The piece is not taken in, and nothing was written."""

    def __init__(self, stop: Stop) -> None:
        self.stop = stop
        super().__init__(stop.value)


class FormUsedError(Exception):
    """The form was used before, for another piece; nothing was written."""


@dataclass(frozen=True, slots=True)
class Sitting:
    """Readings taken at the counter, and with what."""

    readings: Sequence[Reading]
    instrument: str = ""
    lift_angle_deg: Decimal | None = None
    whole_beat_error: bool = False


@dataclass(frozen=True, slots=True)
class Signed:
    """A signature: the very text it stands under, in which language, whose it is, and its strokes (none: typed)."""

    text: str
    language: str
    name: str
    strokes: tuple[Stroke, ...] = ()


NOTHING_NOTED = Noted()


@transaction.atomic
def take_in(
    piece: Piece,
    *,
    form_key: UUID,
    boutique: Boutique,
    by: Staff,
    taken_on: date,
    at: datetime,
    as_of: date,
    asked: Collection[Asked],
    owner_says: str,
    left_with: str,
    sitting: Sitting | None,
    dry: Sequence[tuple[TightnessTest, Tested]] = (),
    noted: Noted = NOTHING_NOTED,
    signed: Signed | None = None,
    draft: Draft | None = None,
) -> DropOff:
    """Take a piece in at a boutique: from now on it is held, as in the workshop.

    `taken_on` is the day on the boutique's calendar, `as_of` the house's. The same form sent twice is one drop-off:
    the first is given back. `dry`: tests of tightness in air, in their order; the workshop goes on from them. `draft` is
    what it was started as; it ends, with all others of the piece. Raises
    NotTakenInError for a piece that is lost, stolen or here already, FormUsedError, RunUnderWayError
    and ImpossibleReadingsError; nothing is written then.
    """
    locked = Piece.objects.select_for_update().get(pk=piece.pk)
    before = DropOff.objects.filter(form_key=form_key).first()
    if before:
        if before.piece_id != locked.pk:
            raise FormUsedError(before.number)
        return before
    stop = stop_for(Status(locked.status or Status.IN_USE), Place(locked.place))
    if stop:
        raise NotTakenInError(stop)

    sheet = _measure(locked, sitting, dry, form_key=form_key, taken_on=taken_on, as_of=as_of, by=by)
    country = locked.owner.country if locked.owner else ""
    move = move_piece(locked, to=Place.BOUTIQUE, boutique=boutique, at=at, by=by, reason="taken in")
    drop_off = DropOff.objects.create(
        form_key=form_key,
        number=form_key.hex[:16],  # until its own number is known, below
        piece=locked,
        move=move,
        owner=locked.owner,
        boutique=boutique,
        taken_on=taken_on,
        taken_by=by,
        owner_says=owner_says,
        asked=sorted(one.value for one in asked),
        left_with=left_with,
        draft=draft,
        guarantee=decision_of(locked, taken_on, country=country or boutique.country).record(),
        sheet=sheet,
        **_as_noted(noted),
    )
    drop_off.number = number_of(drop_off.pk)
    drop_off.save(update_fields=["number"])
    if signed:
        _keep_signature(drop_off, signed, at)
    Draft.objects.filter(piece=locked, ended_at=None).update(ended_at=at, ended_by=by)
    open_order(
        locked,
        number=drop_off.number,
        boutique=boutique,
        asked=[ORDERED[one] for one in asked],
        opened_on=taken_on,
        at=at,
        by=by,
        promised_on=noted.promised_on,
        quoted_on=noted.quoted_on,
        sheet_before=sheet,
        **_agreed(noted, signed),
    )
    recompute([locked.pk], as_of=as_of)
    end_reminders(locked, on=as_of, because=f"taken in, {drop_off.number}")
    leave_trail(
        by=by,
        deed="take_in",
        subject=f"piece:{locked.serial}",
        after={"drop_off": drop_off.number, "boutique": boutique.code},
    )
    return drop_off


def _measure(
    piece: Piece,
    sitting: Sitting | None,
    dry: Sequence[tuple[TightnessTest, Tested]],
    *,
    form_key: UUID,
    taken_on: date,
    as_of: date,
    by: Staff,
) -> TimingSheet | None:
    """Keep what was measured at the counter; the sheet, where readings were taken."""
    sheet = None
    if sitting and sitting.readings:
        sheet = record_sheet(
            piece,
            sitting.readings,
            taken_on=taken_on,
            by=by,
            instrument=sitting.instrument,
            lift_angle_deg=sitting.lift_angle_deg,
            whole_beat_error=sitting.whole_beat_error,
        )
    if dry:
        run = begin_run(piece, form_key=form_key, on=as_of, by=by)
        for test, tested in dry:
            add_result(run, test, tested, by=by, as_of=as_of)
    return sheet


class _AsNoted(TypedDict):
    condition: list[dict[str, str]]
    declared_value: Decimal | None
    declared_currency: str
    promised_on: date | None
    estimate: dict[str, Any] | None


def _as_noted(noted: Noted) -> _AsNoted:
    """What the counter noted, as a drop-off keeps it."""
    return {
        "condition": noted.condition.record(),
        "declared_value": noted.declared.amount if noted.declared else None,
        "declared_currency": noted.declared.currency if noted.declared else "",
        "promised_on": noted.promised_on,
        "estimate": noted.estimate.record() if noted.estimate else None,
    }


class _Agreed(TypedDict, total=False):
    agreed_total: Decimal
    agreed_currency: str


def _agreed(noted: Noted, signed: Signed | None) -> _Agreed:
    """What the owner signed for; nothing where some line is estimated only after opening, or nobody signed."""
    if signed is None or noted.estimate is None or not noted.estimate.is_whole:
        return {}
    return {"agreed_total": noted.estimate.total, "agreed_currency": noted.estimate.currency}


def _keep_signature(drop_off: DropOff, signed: Signed, at: datetime) -> Signature:
    return Signature.objects.create(
        drop_off=drop_off,
        text=signed.text,
        text_sha256=sha256_of(signed.text),
        language=signed.language,
        name=signed.name,
        drawn=drawn(signed.strokes),
        signed_at=at,
    )
