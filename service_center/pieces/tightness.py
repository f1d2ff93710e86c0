"""What is known of a piece's tightness: its last test, and what that was for. Never that it keeps water out today."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _

from service_center.book.models import HistoryEntry, Piece
from service_center.book.rules import DoneBy, EntryKind, Tightness
from service_center.intervals.rules import Due, OwedFact
from service_center.measurements.rules.tightness import METRES_A_BAR
from service_center.pieces.timeline.moment import day_in_words, name_of
from service_center.pieces.wording import DONE_BY, ENTRY_KINDS


@dataclass(frozen=True, slots=True)
class KnownTightness:
    """In words. `state` is passed, failed or empty; `rating` what the model is made for; `since` what happened later."""

    rated: bool
    rating: str
    state: str
    result: str
    by: str
    at: str
    counts: str
    since: str


def known_tightness(piece: Piece, due: Due | None, as_of: date) -> KnownTightness:
    """What the history up to a day tells; corrected entries do not count. `due`: the tightness check's. One statement."""
    last = (
        HistoryEntry.objects.filter(piece=piece, done_on__lte=as_of)
        .filter(tightness__in=[Tightness.PASSED, Tightness.FAILED])
        .exclude(corrections__done_on__lte=as_of)
        .select_related("recorded_by")
        .order_by("-done_on", "-code")
        .first()
    )
    model = piece.model
    rated = bool(model and model.rated_bar is not None)
    rating = (
        rating_in_words(model.rated_bar, divers=bool(model.divers)) if model and model.rated_bar is not None else ""
    )
    if last is None:
        return KnownTightness(rated, rating, "", "", "", "", "", _since(due))
    return KnownTightness(
        rated,
        rating,
        last.tightness,
        _result(last),
        _by(last),
        str(ENTRY_KINDS[last.kind]) if last.kind != EntryKind.TIGHTNESS_CHECK else "",
        _counts(last),
        _since(due),
    )


def rating_in_words(bar: Decimal, *, divers: bool) -> str:
    """10 bar, marked 100 m: ISO 22810; a diver's watch: ISO 6425 (facts.md, 4)."""
    words = {"bar": f"{bar.normalize():f}", "metres": f"{(bar * METRES_A_BAR).normalize():f}"}
    if divers:
        return _("%(bar)s bar, marked %(metres)s m, as a diver's watch (ISO 6425)") % words
    return _("%(bar)s bar, marked %(metres)s m (ISO 22810)") % words


def _result(entry: HistoryEntry) -> str:
    day = {"day": day_in_words(entry.done_on)}
    return _("Passed on %(day)s") % day if entry.tightness == Tightness.PASSED else _("Failed on %(day)s") % day


def _by(entry: HistoryEntry) -> str:
    who = str(DONE_BY[entry.done_by or DoneBy.OUTSIDE])
    if entry.recorded_by:
        name = name_of(entry.recorded_by)
        return _("%(who)s, written down by %(name)s") % {"who": who, "name": name}
    return who


def _counts(entry: HistoryEntry) -> str:
    if entry.done_by == DoneBy.OWN or entry.tightness == Tightness.FAILED:
        return ""
    if entry.accepted:
        return _("A document of it was seen.")
    return _("No document was seen: it counts as no pass.")


def _since(due: Due | None) -> str:
    if due is None or due.owed is None:
        return ""
    day = {"day": day_in_words(due.owed.since)}
    if due.owed.fact is OwedFact.FAILED:
        return _("It failed a test on %(day)s and has passed none since.") % day
    return _("The case was opened on %(day)s, and no test has passed since.") % day
