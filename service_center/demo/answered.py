"""Letters of intervals that are over, and what the house forecast while they were running. None of them is mailed."""

import random
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
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
    """What owners were written before the visits of the last years, where the house's pause between letters has room.

    Pieces of one owner travel together where their letters fall on one day.
    """
    had: dict[int, set[date]] = defaultdict(set)
    for owner, day in Letter.objects.values_list("owner", "planned_on"):
        had[owner].add(day)
    # An interval that a service did not end, for it was not accepted or failed, has its letters already.
    known = set(Reminder.objects.values_list("piece", "kind", "starts_on"))
    told: dict[tuple[int, date], list[tuple[Visit, WrittenTo, WrittenTo]]] = defaultdict(list)
    for visit in _visits(today - timedelta(days=DAYS)):
        owner, key = visit.piece.owner_id or 0, (visit.piece.pk, visit.kind.value, visit.starts_on)
        if key in known:
            continue
        letters = letters_before(dice, visit.came)
        if any(one.day <= visit.starts_on or not _has_room(one.day, owner, had, told) for one in letters):
            continue
        known.add(key)
        for one in letters:
            had[owner].add(one.day)
            told[owner, one.day].append((visit, letters[0], one))
    days = sorted(told, key=lambda one: (one[1], one[0]))
    written = Letter.objects.bulk_create([_letter(told[key][0][0].piece, key[1]) for key in days])
    Reminder.objects.bulk_create(
        [
            Reminder(
                piece=visit.piece, kind=visit.kind.value, starts_on=visit.starts_on, step=one.step.value, letter=letter,
                due_on=invited.day + timedelta(days=HOUSE_DAYS.invite_before_due),
            )
            for letter, key in zip(written, days, strict=True)
            for visit, invited, one in told[key]
        ]
    )  # fmt: skip
    mark_as_sent(
        Letter.objects.filter(state=LetterState.WAITING, pk__in=[one.pk for one in written]).select_related("owner")
    )


def _has_room(day: date, owner: int, had: Mapping[int, set[date]], told: Collection[tuple[int, date]]) -> bool:
    """Whether an owner may have had a letter on a day: one of ours already, or as far from every other as the house keeps."""
    return (owner, day) in told or all(abs((day - other).days) >= HOUSE_DAYS.between_letters for other in had[owner])


def _letter(piece: Piece, day: date) -> Letter:
    assert piece.owner is not None  # only of pieces with an owner
    return Letter(
        owner=piece.owner, language=language_of(piece.owner), planned_on=day, not_before=morning(piece.owner, day)
    )


def _visits(since: date) -> Iterator[Visit]:
    """Own services since a day, with the start of the interval that each ended."""
    came = {(order.piece_id, order.closed_on): order.opened_on for order in WorkOrder.objects.exclude(closed_on=None)}
    kinds = {EntryKind.OVERHAUL.value: ServiceKind.OVERHAUL, EntryKind.TIGHTNESS_CHECK.value: ServiceKind.TIGHTNESS}
    written_to = Piece.objects.filter(owner__letters=True).exclude(owner__email="").select_related("owner")
    pieces = {piece.pk: piece for piece in written_to}
    entries = HistoryEntry.objects.filter(voids=None, corrections=None, kind__in=kinds).order_by("done_on", "pk")
    begun: dict[tuple[int, ServiceKind], date] = {}
    for piece_id, entry_kind, done_on, done_by in entries.values_list("piece_id", "kind", "done_on", "done_by"):
        piece, kind = pieces.get(piece_id), kinds[entry_kind]
        if piece is None:
            continue
        start = begun.get((piece.pk, kind)) or piece.sold_on or piece.made_on
        arrived = came.get((piece.pk, done_on), done_on)
        if start and done_on >= since and done_by == DoneBy.OWN.value and arrived > start:
            yield Visit(piece, kind, start, arrived)
        begun[piece.pk, kind] = done_on
        if kind is ServiceKind.OVERHAUL:
            begun[piece.pk, ServiceKind.TIGHTNESS] = done_on
