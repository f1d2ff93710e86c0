"""Sittings at the timing machine, and sheets that correct others."""

from collections.abc import Iterator
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from service_center.book.models import Piece
from service_center.measurements.models import TimingSheet
from service_center.measurements.queries import sheets_of
from service_center.measurements.rules import Reading, Wind
from service_center.pieces.timeline.moment import Link, Moment, Sort, day_in_words, name_of, recorded_by
from service_center.pieces.timeline.trail import Reasons

NO_BREAK = "\u00a0"


def readings(piece: Piece, as_of: date, reasons: Reasons) -> Iterator[Moment]:
    """Every sheet; one that a later sheet corrects is struck from the day of that one. Two statements."""
    sheets = sheets_of(piece)
    by_key = {sheet.pk: sheet for sheet, _readings in sheets}
    corrected = {sheet.voids_id: sheet for sheet, _readings in sheets if sheet.voids_id and sheet.taken_on <= as_of}
    for sheet, read in sheets:
        by, wrong = corrected.get(sheet.pk), by_key.get(sheet.voids_id or 0)
        yield Moment(
            sheet.taken_on,
            4,
            _heading(read),
            frozenset({Sort.READINGS, *([Sort.CORRECTIONS] if wrong or by else [])}),
            details=list(_said_of(sheet, read)),
            readings=[in_short(one) for one in read],
            note=sheet.remark,
            why=reasons.get(f"sheet:{sheet.pk}", ""),
            sheet=None if by else sheet.pk,
            struck=by is not None,
            link=_link(wrong, by),
            recorded=recorded_by(sheet.taken_by, sheet.recorded_at) if wrong or by else "",
            anchor=anchor_of(sheet),
        )


def anchor_of(sheet: TimingSheet) -> str:
    """Where a link to a sheet leads."""
    return f"sheet-{sheet.pk}"


def _heading(read: list[Reading]) -> str:
    if not read:
        return _("Timing: struck out")
    return ngettext("Timing, %(count)d reading", "Timing, %(count)d readings", len(read)) % {"count": len(read)}


def _said_of(sheet: TimingSheet, read: list[Reading]) -> Iterator[str]:
    if sheet.taken_by and not sheet.voids_id:
        yield _("by %(name)s") % {"name": name_of(sheet.taken_by)}
    full, later = _lowest(read, Wind.FULL), _lowest(read, Wind.AFTER_24H)
    if full:
        yield _("lowest at full wind %(reading)s") % {"reading": full}
    if later:
        yield _("lowest after 24 h %(reading)s") % {"reading": later}


def _lowest(read: list[Reading], wind: Wind) -> str:
    """The lowest amplitude of a wind state and its position; empty where none was read."""
    found = [(one.amplitude, one.position) for one in read if one.wind is wind and one.amplitude is not None]
    if not found:
        return ""
    degrees, position = min(found)
    return f"{degrees:.0f}°{NO_BREAK}{position}"


def _link(wrong: TimingSheet | None, by: TimingSheet | None) -> Link | None:
    if by:
        return Link(_("corrected by the sheet of %(day)s") % {"day": day_in_words(by.taken_on)}, anchor_of(by))
    if wrong:
        return Link(_("corrects the sheet of %(day)s") % {"day": day_in_words(wrong.taken_on)}, anchor_of(wrong))
    return None


def in_short(reading: Reading) -> str:
    """6H +4.5 s/d 281° 0.20 ms; what was not read is left out. A wind state other than full is named."""
    parts = [reading.position if reading.wind.value == "full" else f"{reading.position} ({reading.wind.value})"]
    if reading.rate is not None:
        parts.append(f"{reading.rate:+.1f} s/d".replace("-", "−"))
    if reading.amplitude is not None:
        parts.append(f"{reading.amplitude:.0f}°")
    if reading.beat_error is not None:
        parts.append(f"{reading.beat_error:.2f} ms")
    return " ".join(parts).replace(" ", NO_BREAK)
