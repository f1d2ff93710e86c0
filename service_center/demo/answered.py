"""Letters of intervals that are over, and what the house forecast while they were running. None of them is mailed."""

import random
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from service_center.book.models import HistoryEntry, Piece
from service_center.book.rules import DoneBy, EntryKind, ServiceKind
from service_center.book.wording import language_of
from service_center.demo.past import mark_as_sent, morning
from service_center.demo.rules.answered import WrittenTo, letters_before
from service_center.letters.models import Letter, Reminder
from service_center.letters.rules.steps import HOUSE_DAYS
from service_center.letters.rules.words import LetterState
from service_center.workshop.models import WorkOrder

DAYS = 1100


@dataclass(frozen=True, slots=True)
class Visit:
    """A service that ended an interval: when the piece came, and when the interval had begun."""

    piece: Piece
    kind: ServiceKind
    starts_on: date
    came: date


def tell_answered_letters(dice: random.Random, today: date) -> None:
    """What owners were written before the visits of the last years. A day on which an owner had a letter has no second."""
    taken = set(Letter.objects.values_list("owner", "planned_on"))
    told: dict[tuple[int, date], list[tuple[Visit, WrittenTo]]] = defaultdict(list)
    for visit in _visits(today - timedelta(days=DAYS)):
        owner = visit.piece.owner_id or 0
        letters = letters_before(dice, visit.came)
        if any((owner, one.day) in taken or one.day <= visit.starts_on for one in letters):
            continue
        for one in letters:
            told[owner, one.day].append((visit, one))
    days = sorted(told, key=lambda one: (one[1], one[0]))
    written = Letter.objects.bulk_create([_letter(told[key][0][0].piece, key[1]) for key in days])
    Reminder.objects.bulk_create(
        [
            Reminder(
                piece=visit.piece, kind=visit.kind.value, starts_on=visit.starts_on, step=one.step.value, letter=letter,
                due_on=_due_on(visit, told[key]),
            )
            for letter, key in zip(written, days, strict=True)
            for visit, one in told[key]
        ],
        ignore_conflicts=True,
    )  # fmt: skip
    mark_as_sent(
        Letter.objects.filter(state=LetterState.WAITING, pk__in=[one.pk for one in written]).select_related("owner")
    )


def _due_on(visit: Visit, told: list[tuple[Visit, WrittenTo]]) -> date:
    """The due date that its invitation spoke of."""
    first = min(one.day for other, one in told if other == visit)
    return first + timedelta(days=HOUSE_DAYS.invite_before_due)


def _letter(piece: Piece, day: date) -> Letter:
    assert piece.owner is not None  # only of pieces with an owner
    return Letter(
        owner=piece.owner, language=language_of(piece.owner), planned_on=day, not_before=morning(piece.owner, day)
    )


def _visits(since: date) -> Iterator[Visit]:
    """Own services since a day, with the start of the interval that each ended."""
    came = {(order.piece_id, order.closed_on): order.opened_on for order in WorkOrder.objects.exclude(closed_on=None)}
    kinds = {EntryKind.OVERHAUL.value: ServiceKind.OVERHAUL, EntryKind.TIGHTNESS_CHECK.value: ServiceKind.TIGHTNESS}
    entries = HistoryEntry.objects.filter(voids=None, corrections=None, piece__owner__letters=True)
    begun: dict[tuple[int, ServiceKind], date] = {}
    for entry in entries.exclude(piece__owner__email="").select_related("piece__owner").order_by("done_on", "pk"):
        kind = kinds.get(entry.kind)
        if kind is None:
            continue
        start = begun.get((entry.piece_id, kind)) or entry.piece.sold_on or entry.piece.made_on
        arrived = came.get((entry.piece_id, entry.done_on), entry.done_on)
        if start and entry.done_on >= since and entry.done_by == DoneBy.OWN.value and arrived > start:
            yield Visit(entry.piece, kind, start, arrived)
        begun[entry.piece_id, kind] = entry.done_on
        if kind is ServiceKind.OVERHAUL:
            begun[entry.piece_id, ServiceKind.TIGHTNESS] = entry.done_on
