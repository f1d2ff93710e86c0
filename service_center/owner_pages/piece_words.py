"""What an owner reads of a piece's past and of where it is now, in the language that is active."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from django.utils.formats import number_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from service_center.book.days import day_written
from service_center.book.models import HistoryEntry
from service_center.book.rules import DoneBy, EntryKind, Place, Tightness
from service_center.intake.papers import ReadingRow
from service_center.measurements.rules import Reading, Wind, figures_of

KINDS: dict[str, str | Promise] = {
    EntryKind.OVERHAUL: gettext_lazy("Overhaul"),
    EntryKind.REPAIR: gettext_lazy("Repair"),
    EntryKind.TIGHTNESS_CHECK: gettext_lazy("Tightness check"),
    EntryKind.BATTERY: gettext_lazy("Battery"),
    EntryKind.STRAP: gettext_lazy("Strap"),
}


def where_in_words(place: Place, *, since: date | None, boutique: str) -> str:
    """Where a piece is now, and since when where that is known."""
    said = {"day": day_written(since) if since else "", "boutique": boutique}
    if place is Place.OWNER:
        return _("We do not have this watch in our house: it is with you.")
    if place is Place.WORKSHOP:
        return (
            _("Your watch has been in our workshop since %(day)s.") if since else _("Your watch is in our workshop.")
        ) % said
    if not boutique:
        return _("Your watch is at our boutique.")
    if since is None:
        return _("Your watch is at our boutique %(boutique)s.") % said
    return _("Your watch has been at our boutique %(boutique)s since %(day)s.") % said


def work_in_words(entry: HistoryEntry, *, passed_since: bool) -> list[str]:
    """What is told of a piece of work besides its day and kind: no names, no notes of the house.

    `passed_since`: a later entry passed the tightness test, so that nothing is to be minded any more.
    """
    said = []
    if entry.done_by == DoneBy.OWN:
        said.append(_("Done in our workshop."))
    elif entry.accepted:
        said.append(_("Done elsewhere; we have seen a document."))
    else:
        said.append(_("Done elsewhere; we have not seen a document."))
    if entry.tightness == Tightness.PASSED:
        said.append(_("It passed the tightness test."))
    elif entry.tightness == Tightness.FAILED and passed_since:
        said.append(_("It did not pass the tightness test, and passed a later one."))
    elif entry.tightness == Tightness.FAILED:
        said.append(_("It did not pass the tightness test. Keep it out of water until it has passed one."))
    return said


def reading_in_words(row: ReadingRow) -> list[str]:
    """One position's figures, those that were read."""
    said = []
    if row.rate:
        said.append(_("rate %(rate)s seconds a day") % {"rate": row.rate})
    if row.amplitude:
        said.append(_("amplitude %(degrees)s degrees") % {"degrees": row.amplitude})
    if row.beat_error:
        said.append(_("beat error %(time)s milliseconds") % {"time": row.beat_error})
    return said


def rate_in_words(readings: Sequence[Reading]) -> str:
    """How a piece ran, fully wound, on average over the positions that were read; empty where nobody read it."""
    figures = figures_of(readings).winds[Wind.FULL]
    if figures.mean_rate is None:
        return ""
    rate = figures.mean_rate.quantize(Decimal("0.1"))
    count = sum(1 for one in readings if one.wind is Wind.FULL and one.rate is not None)
    said = {"rate": number_format(abs(rate), 1), "count": count}
    if not rate:
        return (
            ngettext(
                "In the %(count)d position we read it neither gained nor lost.",
                "Over the %(count)d positions we read it neither gained nor lost on average.",
                count,
            )
            % said
        )
    if rate > 0:
        return (
            ngettext(
                "In the %(count)d position we read it gained %(rate)s seconds a day.",
                "Over the %(count)d positions we read it gained %(rate)s seconds a day on average.",
                count,
            )
            % said
        )
    return (
        ngettext(
            "In the %(count)d position we read it lost %(rate)s seconds a day.",
            "Over the %(count)d positions we read it lost %(rate)s seconds a day on average.",
            count,
        )
        % said
    )
