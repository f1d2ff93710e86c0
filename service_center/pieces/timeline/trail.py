"""What was written down of a piece beside its history: lost, stolen, found again, in other hands, corrected in the book."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from django.db.models import Q
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.translation import gettext as _

from service_center.access.models import Trail
from service_center.book.models import Piece
from service_center.book.rules import Status
from service_center.pieces.timeline.moment import Moment, Sort, day_in_words, recorded_by
from service_center.pieces.wording import USES

Reasons = Mapping[str, str]
DEEDS = ("correct_piece", "change_owner")


def trail_of(piece: Piece) -> list[Trail]:
    """What the trail has of a piece that a person reads: with a reason, or of a deed above. One statement, by index."""
    rows = Trail.objects.filter(~Q(reason="") | Q(deed__in=DEEDS), subject=f"piece:{piece.serial}")
    return list(rows.select_related("by").order_by("pk"))


def reasons_of_corrections(rows: Iterable[Trail]) -> Reasons:
    """Why corrections were written, by the code of the entry or the key of the sheet."""
    found = {}
    for row in rows:
        for name in ("entry", "sheet"):
            if row.reason and row.after and name in row.after:
                found[f"{name}:{row.after[name]}"] = row.reason
    return found


def changes(rows: Iterable[Trail]) -> Iterator[Moment]:
    """What the book said otherwise from a day on."""
    for row in rows:
        if row.deed not in DEEDS:
            continue
        before, after = row.before or {}, row.after or {}
        yield Moment(
            timezone.localdate(row.at),
            7,
            _hands(after) if row.deed == "change_owner" else _standing(before, after),
            frozenset({Sort.HANDS if row.deed == "change_owner" else Sort.CORRECTIONS}),
            details=list(_details(before, after)),
            why=row.reason,
            recorded=recorded_by(row.by, row.at),
        )


def _hands(after: Mapping[str, Any]) -> str:
    return _("It belongs to somebody else now") if after.get("owner") else _("Nobody knows any more who has it")


def _standing(before: Mapping[str, Any], after: Mapping[str, Any]) -> str:
    match after.get("status"):
        case Status.STOLEN:
            return _("Recorded as stolen")
        case Status.LOST:
            return _("Recorded as lost")
        case Status.RETIRED:
            return _("Recorded as retired")
        case Status.IN_USE if before.get("status") in {Status.STOLEN, Status.LOST}:
            return _("Found again")
        case Status.IN_USE:
            return _("In use again")
        case _other:
            return _("Corrected in the book")


def _details(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    for field, name in (("use", _("use")), ("model", _("model")), ("sold_on", _("sold on"))):
        if field in after:
            yield f"{name}: {_said(field, before.get(field))} → {_said(field, after[field])}"


def _said(field: str, value: str | None) -> str:
    if not value:
        return _("not known")
    if field == "use":
        return str(USES[value]).lower()
    day = parse_date(value) if field == "sold_on" else None
    return day_in_words(day) if day else value
