"""Reading facts for the rules, and due dates for people."""

from collections import defaultdict
from collections.abc import Collection
from datetime import date

from django.conf import settings

from service_center.book.models import HistoryEntry, Piece
from service_center.book.rules import DoneBy, EntryKind, Place, ServiceKind, Status, Tightness, Use
from service_center.intervals.models import IntervalRule
from service_center.intervals.rules import HOUSE_DEFAULTS, Due, Entry, PieceFacts, Rule, Scope, due_dates


def house_rules() -> tuple[Rule, ...]:
    """The house's interval rules; the defaults where it has written none. One statement."""
    rules = tuple(
        Rule(
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
        for row in IntervalRule.objects.order_by("code")
    )
    return rules or HOUSE_DEFAULTS


def facts_of(piece_ids: Collection[int]) -> dict[int, PieceFacts]:
    """What is known of some pieces, by their ids. Two statements, however many pieces."""
    history: dict[int, list[Entry]] = defaultdict(list)
    for entry in HistoryEntry.objects.filter(piece_id__in=piece_ids).order_by("done_on", "code"):
        history[entry.piece_id].append(_entry(entry))
    pieces = Piece.objects.filter(pk__in=piece_ids).select_related("model__calibre")
    return {piece.pk: _facts(piece, tuple(history[piece.pk])) for piece in pieces}


def due_of(piece: Piece, as_of: date) -> list[Due]:
    """What is due for one piece on a day, from the facts dated up to it. Three statements."""
    facts = facts_of([piece.pk])[piece.pk]
    return due_dates(facts, house_rules(), as_of, shelf_months=settings.SHELF_MONTHS)


def _entry(row: HistoryEntry) -> Entry:
    return Entry(
        code=row.code,
        done_on=row.done_on,
        kind=EntryKind(row.kind),
        case_opened=bool(row.case_opened),
        tightness=Tightness(row.tightness) if row.tightness else Tightness.NOT_TESTED,
        counts=row.done_by == DoneBy.OWN or bool(row.accepted),
    )


def _facts(piece: Piece, history: tuple[Entry, ...]) -> PieceFacts:
    model = piece.model
    return PieceFacts(
        serial=piece.serial,
        reference=model.reference if model else "",
        calibre=model.calibre.code if model and model.calibre else "",
        rated=bool(model and model.rated_bar is not None),
        made_on=piece.made_on,
        sold_on=piece.sold_on,
        use=Use(piece.use) if piece.use else None,
        status=Status(piece.status) if piece.status else Status.IN_USE,
        in_workshop=piece.place != Place.OWNER,
        history=history,
    )
