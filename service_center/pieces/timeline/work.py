"""What was done to a piece, and what was written down wrongly: both entries stay, each leads to the other."""

from collections.abc import Iterator
from datetime import date

from django.utils.translation import gettext as _

from service_center.book.models import HistoryEntry, Piece
from service_center.book.rules import DoneBy, Tightness
from service_center.pieces.timeline.moment import Link, Moment, Sort, day_in_words, recorded_by
from service_center.pieces.timeline.trail import Reasons
from service_center.pieces.wording import ENTRY_KINDS, TIGHTNESS


def work(piece: Piece, as_of: date, reasons: Reasons) -> Iterator[Moment]:
    """The history as it stood on a day: an entry is struck from the day of the one that corrects it. One statement."""
    rows = HistoryEntry.objects.filter(piece=piece).select_related("voids", "recorded_by").order_by("-pk")
    entries = list(rows)
    corrected = {entry.voids_id: entry for entry in entries if entry.voids_id and entry.done_on <= as_of}
    return (_moment(entry, corrected.get(entry.pk), reasons) for entry in entries)


def anchor_of(entry: HistoryEntry) -> str:
    """Where a link to an entry leads."""
    return f"entry-{entry.pk}"


def says_never(entry: HistoryEntry) -> bool:
    """As `book.actions.strike_entry` writes it: of the same day and kind, that nothing was done."""
    wrong = entry.voids
    return (
        wrong is not None
        and (wrong.kind, wrong.done_on) == (entry.kind, entry.done_on)
        and (entry.done_by, entry.accepted, entry.case_opened) == (DoneBy.OUTSIDE, False, False)
    )


def _moment(entry: HistoryEntry, by: HistoryEntry | None, reasons: Reasons) -> Moment:
    never, outside = says_never(entry), entry.done_by != DoneBy.OWN
    kind = str(ENTRY_KINDS[entry.kind])
    corrects = entry.voids is not None
    return Moment(
        entry.done_on,
        6 if corrects else 5,
        _("%(kind)s: it never happened") % {"kind": kind} if never else kind,
        frozenset({Sort.CORRECTIONS}) if never else frozenset({Sort.WORK, *([Sort.CORRECTIONS] if corrects or by else [])}),
        details=[] if never else list(_said_of(entry, outside=outside)),
        note="" if never else entry.note,
        why=entry.note if never else reasons.get(f"entry:{entry.code}", ""),
        work=not never,
        entry="" if by else entry.code,
        to_accept=outside and not entry.accepted and by is None and not never,
        struck=by is not None,
        link=_link(entry, by),
        recorded=recorded_by(entry.recorded_by, entry.recorded_at) if corrects or by else "",
        anchor=anchor_of(entry),
    )  # fmt: skip


def _link(entry: HistoryEntry, by: HistoryEntry | None) -> Link | None:
    if by:
        words = _("struck out, see why") if says_never(by) else _("corrected by the entry of %(day)s")
        return Link(words % {"day": day_in_words(by.done_on)}, anchor_of(by))
    if entry.voids:
        words = _("corrects the entry of %(day)s") % {"day": day_in_words(entry.voids.done_on)}
        return Link(words, anchor_of(entry.voids))
    return None


def _said_of(entry: HistoryEntry, *, outside: bool) -> Iterator[str]:
    if outside:
        yield _("outside, a document was seen") if entry.accepted else _("outside, not accepted")
    else:
        yield _("our own workshop")
    if entry.case_opened:
        yield _("case opened")
    if entry.tightness and entry.tightness != Tightness.NOT_TESTED:
        yield _("tightness: %(result)s") % {"result": str(TIGHTNESS[entry.tightness]).lower()}
