"""Reading facts for the rules, and telling one piece's due dates from them."""

from collections import defaultdict
from collections.abc import Collection, Iterator
from datetime import date, datetime, time, timedelta
from itertools import islice

from django.conf import settings
from django.db import connection
from django.db.models import Q
from django.db.models.functions import Collate
from django.utils import timezone

from service_center.book.models import Custody, HistoryEntry, Piece
from service_center.book.rules import DoneBy, EntryKind, Place, ServiceKind, Status, Tightness, Use
from service_center.intervals.models import IntervalRule
from service_center.intervals.rules import (
    HOUSE_DEFAULTS,
    Amplitude,
    Due,
    Entry,
    Move,
    PieceFacts,
    Rule,
    Scope,
    Series,
    due_dates,
    series_after,
)
from service_center.measurements.models import Reading, TimingSheet
from service_center.measurements.rules import Wind
from service_center.measurements.rules.service_limits import COMMON_PRACTICE

BATCH = 2_000


def house_rules() -> tuple[Rule, ...]:
    """The house's interval rules; the defaults where it has written none. One statement."""
    rules = tuple(as_rule(row) for row in IntervalRule.objects.order_by("code"))
    return rules or HOUSE_DEFAULTS


def as_rule(row: IntervalRule) -> Rule:
    """A rule's row as a plain value."""
    return Rule(
        code=row.code,
        kind=ServiceKind(row.kind),
        scope=Scope(row.scope),
        scope_value=row.scope_value,
        use=None if row.use == "any" else Use(row.use),
        opens=row.opens_months,
        due=row.due_months,
        closes=row.closes_months,
        in_force_from=row.in_force_from,
        covers_running=row.covers_running,
    )


def facts_of(piece_ids: Collection[int]) -> dict[int, PieceFacts]:
    """What is known of some pieces, by their ids, in the order of their serials. Four statements, however many."""
    history: dict[int, list[Entry]] = defaultdict(list)
    # Values rather than records: many are read at once, and most of the time would go into making records of them.
    entries = HistoryEntry.objects.filter(piece_id__one_of=piece_ids).order_by("done_on", "code")
    for piece_id, code, done_on, kind, case_opened, tightness, done_by, accepted, voids in entries.values_list(
        "piece_id", "code", "done_on", "kind", "case_opened", "tightness", "done_by", "accepted", "voids__code"
    ):
        history[piece_id].append(
            Entry(
                code=code,
                done_on=done_on,
                kind=EntryKind(kind),
                case_opened=bool(case_opened),
                tightness=Tightness(tightness) if tightness else Tightness.NOT_TESTED,
                counts=done_by == DoneBy.OWN or bool(accepted),
                voids=voids,
            )
        )
    amplitudes: dict[int, list[Amplitude]] = defaultdict(list)
    for piece_id, amplitude in _amplitudes(piece_ids):
        amplitudes[piece_id].append(amplitude)
    moves: dict[int, list[Move]] = defaultdict(list)
    custody = Custody.objects.filter(piece_id__one_of=piece_ids).order_by("since", "pk")
    for piece_id, place, since in custody.values_list("piece_id", "place", "since"):
        moves[piece_id].append(Move(timezone.localdate(since), place != Place.OWNER))
    pieces = Piece.objects.filter(pk__one_of=piece_ids).order_by("serial").values_list(
        "pk", "serial", "model__reference", "model__calibre__code", "model__rated_bar", "made_on", "sold_on", "use",
        "status",
    )  # fmt: skip
    return {
        pk: PieceFacts(
            serial=serial,
            reference=reference or "",
            calibre=calibre or "",
            rated=rated_bar is not None,
            made_on=made_on,
            sold_on=sold_on,
            use=Use(use) if use else None,
            status=Status(status) if status else Status.IN_USE,
            moves=tuple(moves[pk]),
            history=tuple(history[pk]),
            amplitudes=tuple(amplitudes[pk]),
        )
        for pk, serial, reference, calibre, rated_bar, made_on, sold_on, use, status in pieces
    }


def _amplitudes(piece_ids: Collection[int]) -> Iterator[tuple[int, Amplitude]]:
    read = Reading.objects.filter(sheet__piece_id__one_of=piece_ids, amplitude__isnull=False)
    rows = read.order_by("sheet__taken_on", "sheet_id", "pk")
    for piece_id, day, wind, position, degrees, until in rows.values_list(
        "sheet__piece_id", "sheet__taken_on", "wind", "position", "amplitude", "sheet__corrections__taken_on"
    ):
        yield piece_id, Amplitude(day, Wind(wind), position, float(degrees or 0), until)


def due_of(piece: Piece, as_of: date) -> list[Due]:
    """What is due for one piece on a day, from the facts dated up to it. Five statements."""
    facts = facts_of([piece.pk])[piece.pk]
    return due_dates(facts, house_rules(), as_of, shelf_months=settings.SHELF_MONTHS)


def due_and_readings_of(piece: Piece, as_of: date) -> tuple[list[Due], list[Series]]:
    """The same, with the readings across visits that the overhaul's date was judged by. Five statements."""
    facts = facts_of([piece.pk])[piece.pk]
    found = due_dates(facts, house_rules(), as_of, shelf_months=settings.SHELF_MONTHS)
    starts = [due.start.on for due in found if due.kind is ServiceKind.OVERHAUL and due.start]
    known = facts.known_on(as_of).amplitudes
    return found, [series for start in starts for series in series_after(known, start, COMMON_PRACTICE)]


def due_by_serial(
    as_of: date, *, serial: str | None = None, kind: ServiceKind | None = None
) -> Iterator[tuple[str, Due]]:
    """Serial and due, of the whole book or of one piece, ordered by serial and kind; worked out from the facts.

    Four statements for every 2,000 pieces; no more than those are in memory.
    """
    # By the characters themselves, whatever the order of letters that the database was set up with.
    order = Collate("serial", "C") if connection.vendor == "postgresql" else "serial"
    pieces = Piece.objects.order_by(order).values_list("pk", flat=True)
    if serial is not None:
        pieces = pieces.filter(serial=serial)
    rules = house_rules()
    for batch in _batches(pieces.iterator(chunk_size=BATCH)):
        for facts in sorted(facts_of(batch).values(), key=lambda facts: facts.serial):
            for due in due_dates(facts, rules, as_of, shelf_months=settings.SHELF_MONTHS):
                if kind in {None, due.kind}:
                    yield facts.serial, due


def pieces_with_facts_between(after: date, up_to: date) -> set[int]:
    """Pieces with a fact dated after one day and up to another. Four statements."""
    dated = Q(made_on__gt=after, made_on__lte=up_to) | Q(sold_on__gt=after, sold_on__lte=up_to)
    moved = Custody.objects.filter(since__gte=midnight_after(after), since__lt=midnight_after(up_to))
    return {
        *Piece.objects.filter(dated).values_list("pk", flat=True),
        *HistoryEntry.objects.filter(done_on__gt=after, done_on__lte=up_to).values_list("piece_id", flat=True),
        *moved.values_list("piece_id", flat=True),
        *TimingSheet.objects.filter(taken_on__gt=after, taken_on__lte=up_to).values_list("piece_id", flat=True),
    }


def midnight_after(day: date) -> datetime:
    """The moment a day is over where the house is."""
    return timezone.make_aware(datetime.combine(day + timedelta(days=1), time.min))


def _batches(ids: Iterator[int]) -> Iterator[list[int]]:
    batch = list(islice(ids, BATCH))
    while batch:
        yield batch
        batch = list(islice(ids, BATCH))
