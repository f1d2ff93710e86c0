"""Booking a place, moving it, giving it up, and what the boutique says of it. Each deed is one transaction.

Seats are rows: a visit takes the lowest seat that looks free, and the database's unique key decides who has it. Nobody
counts and then inserts (reliability.md, B6).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from uuid import UUID

from django.db import IntegrityError, transaction

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.models import Boutique, Owner, Piece
from service_center.intake.visits.calendar_entry import calendar_entry
from service_center.intake.visits.models import Visit, VisitDeed, VisitPiece
from service_center.intake.visits.queries import booking_days, coming_visits, pieces_on, seats_taken, slot_at
from service_center.intake.visits.rules import Deed, Slot, VisitState, free_seats, moment_of
from service_center.letters.actions import confirm_visit, record_answer
from service_center.letters.calendars import zone_of
from service_center.letters.models import Letter
from service_center.letters.rules.words import AnswerChoice, VisitNews


class NotBooked(Exception):  # noqa: N818  # a refusal, named as an owner would say it
    """No place was given, and nothing was written."""


class JustTaken(NotBooked):
    """The boutique offers that time, and somebody else has its last place."""


class NotOffered(NotBooked):
    """The boutique does not offer that time: it is closed then, or the day is too near or too far."""


class AlreadyComing(NotBooked):
    """A piece comes on another visit already, which can be moved instead."""

    def __init__(self, visit: Visit) -> None:
        self.visit = visit
        super().__init__(f"visit {visit.pk}")


class NoLongerOpen(NotBooked):
    """The visit was cancelled, or it has begun; or whose it would be was erased."""


@dataclass(frozen=True, slots=True)
class Wish:
    """Where and when an owner would like to come; `at` is the boutique's wall time."""

    boutique: Boutique
    day: date
    at: time


@transaction.atomic
def book(letter: Letter, pieces: Sequence[Piece], wish: Wish, *, form_key: UUID, on: date, now: datetime) -> Visit:
    """Give the owner of a letter a place, for these pieces of it, and write down that answer.

    `on` is the owner's day. The same form sent twice is one visit: the first is given back. Raises JustTaken,
    NotOffered, AlreadyComing, or NoLongerOpen where the owner was erased meanwhile, or where an old page asks for
    another time than the visit that it booked and that is over; nothing is written then.
    """
    owner = Owner.objects.select_for_update(no_key=True).get(pk=letter.owner_id)
    if owner.erased_on:  # between the look at the page and the press of the button
        raise NoLongerOpen
    before = _done_by(form_key, owner)
    if before:
        return _repeated(before, wish, now)
    for visit in coming_visits(owner, pieces, now).values():
        if _is_that(visit, wish) and set(pieces_on(visit)) == set(pieces):
            return visit
        raise AlreadyComing(visit)
    slot = _slot_of(wish, on, now)
    visit = Visit(owner=owner, letter=letter, changed_at=now)
    _place(visit, wish, slot)
    _take_a_seat(visit, slot)
    VisitPiece.objects.bulk_create(VisitPiece(visit=visit, piece=piece) for piece in pieces)
    _answer(visit, pieces, AnswerChoice.BOOKED, day=wish.day, boutique=wish.boutique, on=on)
    _note(visit, Deed.BOOKED, form_key=form_key, now=now)
    _confirm(VisitNews.BOOKED, visit, on=on, now=now)
    return visit


@transaction.atomic
def move(visit: Visit, wish: Wish, *, form_key: UUID, on: date, now: datetime) -> Visit:
    """Give an owner another place instead of the one they have. The old one is free with the same commit.

    The same form sent twice is one move. Raises JustTaken, NotOffered, NoLongerOpen, or AlreadyComing where a page that
    has moved the visit asks for another time; the visit stays as it was then.
    """
    visit = _held(visit)
    before = _done_by(form_key, visit.owner)
    if before:
        return _repeated(before, wish, now)
    if _is_that(visit, wish) and visit.state == VisitState.BOOKED:
        return visit
    _must_be_open(visit, now)
    slot = _slot_of(wish, on, now)
    _place(visit, wish, slot)
    _change(visit, now)
    _take_a_seat(visit, slot)
    _answer(visit, pieces_on(visit), AnswerChoice.BOOKED, day=wish.day, boutique=wish.boutique, on=on)
    _note(visit, Deed.MOVED, form_key=form_key, now=now)
    _confirm(VisitNews.MOVED, visit, on=on, now=now)
    return visit


@transaction.atomic
def cancel(
    visit: Visit, *, ask_again: date, form_key: UUID | None, on: date, now: datetime, by: Staff | None = None
) -> Visit:
    """Give a place up. The owner is asked again from a day on: that is the answer which stands then.

    `by`: who wrote it down, where the owner told the house instead of pressing the button. Cancelled twice is cancelled once. Raises NoLongerOpen for a visit that has begun.
    """
    visit = _held(visit)
    if visit.state == VisitState.CANCELLED:
        return visit
    _must_be_open(visit, now)
    visit.state = VisitState.CANCELLED.value
    _change(visit, now)
    visit.save()
    _answer(visit, pieces_on(visit), AnswerChoice.NOT_NOW, day=ask_again, boutique=None, on=on, by=by)
    _note(visit, Deed.CANCELLED, form_key=form_key, now=now, by=by)
    _confirm(VisitNews.CANCELLED, visit, on=on, now=now)
    if by:
        _leave_trail(visit, "cancel_visit", by, before=VisitState.BOOKED.value)
    return visit


@transaction.atomic
def leave_at_home(owner: Owner, piece: Piece, *, on: date, now: datetime) -> Visit | None:
    """A piece does not come after all, since its owner answered otherwise; that answer is the caller's to record.

    A visit that this leaves without a piece is cancelled. Returns the visit, None where there was none.
    """
    visit = coming_visits(owner, [piece], now).get(piece.pk)
    if visit is None:
        return None
    visit = _held(visit)
    alone = set(pieces_on(visit)) <= {piece}
    if alone:
        visit.state = VisitState.CANCELLED.value
    else:
        visit.coming.filter(piece=piece).delete()
    _change(visit, now)
    visit.save()
    _note(visit, Deed.CANCELLED if alone else Deed.TAKEN_OUT, form_key=None, now=now)
    _confirm(VisitNews.CANCELLED if alone else VisitNews.MOVED, visit, on=on, now=now)
    return visit


@transaction.atomic
def mark(visit: Visit, *, came: bool, by: Staff, today: date, now: datetime) -> Visit:
    """Write down whether the owner came. `today` is the boutique's day; the other may be said later instead.

    Raises NoLongerOpen for a cancelled visit, and for one that is still to come on another day.
    """
    visit = _held(visit)
    state = VisitState.CAME if came else VisitState.DID_NOT_COME
    if visit.state == state:
        return visit
    if visit.state == VisitState.CANCELLED or visit.day > today:
        raise NoLongerOpen
    before = visit.state
    visit.state = state.value
    visit.save(update_fields=["state"])
    _note(visit, Deed.MARKED, form_key=None, now=now, by=by)
    _leave_trail(visit, "mark_visit", by, before=before)
    return visit


def _held(visit: Visit) -> Visit:
    """The visit as it is now, under its owner's lock, as in every deed."""
    Owner.objects.select_for_update(no_key=True).get(pk=visit.owner_id)
    return Visit.objects.select_related("boutique", "owner", "letter").get(pk=visit.pk)


def _done_by(form_key: UUID, owner: Owner) -> VisitDeed | None:
    return VisitDeed.objects.filter(form_key=form_key, visit__owner=owner).select_related("visit__boutique").first()


def _repeated(before: VisitDeed, wish: Wish, now: datetime) -> Visit:
    """What a form did before, where it asks for the same again. One that asks for something else is on a page that was
    left open or gone back to: raises AlreadyComing, or NoLongerOpen where the visit is over.
    """
    asked = moment_of(wish.day, wish.at, zone_of(wish.boutique.time_zone))
    if (before.boutique_id, before.starts_at) != (wish.boutique.pk, asked):
        _must_be_open(before.visit, now)
        raise AlreadyComing(before.visit)
    return before.visit


def _is_that(visit: Visit, wish: Wish) -> bool:
    return (visit.boutique_id, visit.day, visit.at) == (wish.boutique.pk, wish.day, wish.at)


def _must_be_open(visit: Visit, now: datetime) -> None:
    if visit.state != VisitState.BOOKED or visit.starts_at <= now:
        raise NoLongerOpen


def _slot_of(wish: Wish, on: date, now: datetime) -> Slot:
    first, last = booking_days(wish.boutique, on=on, now=now)
    slot = slot_at(wish.boutique, wish.day, wish.at) if first <= wish.day <= last else None
    if slot is None:
        raise NotOffered
    return slot


def _place(visit: Visit, wish: Wish, slot: Slot) -> None:
    visit.boutique = wish.boutique
    visit.day, visit.at, visit.zone = slot.day, slot.at, zone_of(wish.boutique.time_zone).key
    visit.starts_at, visit.ends_at = slot.starts_at, slot.ends_at


def _take_a_seat(visit: Visit, slot: Slot) -> None:
    """Save the visit on the lowest seat that nobody else gets hold of first."""
    taken = seats_taken(visit.boutique, slot.starts_at, slot.ends_at, moving=visit if visit.pk else None)
    for seat in free_seats(slot, taken):
        visit.seat = seat
        try:
            with transaction.atomic():
                visit.save()
        except IntegrityError:  # one_visit_a_seat: somebody was faster
            continue
        return
    raise JustTaken


def _change(visit: Visit, now: datetime) -> None:
    visit.sequence += 1
    visit.changed_at = now


def _confirm(news: VisitNews, visit: Visit, *, on: date, now: datetime) -> None:
    """Tell the owner, with an entry for their calendar: the same one with a higher number for each change."""
    pieces = pieces_on(visit)
    confirm_visit(
        news,
        owner=visit.owner,
        opens=visit.letter,
        visit=visit.key,
        sequence=visit.sequence,
        day=visit.day,
        at=visit.at,
        boutique=visit.boutique,
        pieces=[(str(piece.model) if piece.model else "", piece.serial) for piece in pieces],
        entry=calendar_entry(visit, pieces).decode(),
        on=on,
        now=now,
    )


def _answer(
    visit: Visit,
    pieces: Sequence[Piece],
    choice: AnswerChoice,
    *,
    day: date,
    boutique: Boutique | None,
    on: date,
    by: Staff | None = None,
) -> None:
    owner, letter = visit.owner, visit.letter
    for piece in pieces:
        record_answer(owner=owner, letter=letter, piece=piece, choice=choice, day=day, boutique=boutique, on=on, by=by)


def _leave_trail(visit: Visit, deed: str, by: Staff, *, before: str) -> None:
    leave_trail(by=by, deed=deed, subject=f"visit:{visit.key}", before={"state": before}, after={"state": visit.state})


def _note(visit: Visit, deed: Deed, *, form_key: UUID | None, now: datetime, by: Staff | None = None) -> None:
    VisitDeed.objects.create(
        visit=visit,
        deed=deed.value,
        form_key=form_key,
        done_at=now,
        by=by,
        state=visit.state,
        boutique=visit.boutique,
        starts_at=visit.starts_at,
        sequence=visit.sequence,
    )
