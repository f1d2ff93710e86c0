"""After a backup was brought back: nothing goes out until the desk says so, and nothing that is out goes again.

The backup still holds as waiting what has gone out since. `hold_waiting` stops it, `replay` marks what the sent
journal knows, `go_on` lets the rest go, and `end_held` ends what nobody wants any more (design/letters.md, sent once;
reliability.md, B3). All of it may be repeated, and stands in the trail.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import islice

from django.db import transaction
from django.db.models import Exists, Max, OuterRef, Q, QuerySet
from django.db.models.functions import Now

from service_center.access.actions import leave_trail
from service_center.access.models import Staff, Trail
from service_center.book.models import Owner, Piece
from service_center.letters.actions.ending import end
from service_center.letters.actions.held_lots import each_lot
from service_center.letters.actions.late import let_wait
from service_center.letters.actions.own_numbers import (
    NOT_IN_IT,
    NOT_OUT,
    free_the_day,
    free_the_number,
    numbers_beyond_what_is_known,
)
from service_center.letters.doorbell import ring_after_commit
from service_center.letters.faults import fault
from service_center.letters.models import Letter, OwnerLink, Reminder, Round, RoundsHeld
from service_center.letters.queries.held_letters import held_letters
from service_center.letters.queries.held_rounds import rounds_are_held_after_restore
from service_center.letters.rules.journal import Going, Gone
from service_center.letters.rules.restored import AFTER_RESTORE, LETTERS, RESTORED, Deed
from service_center.letters.rules.words import LetterSort, LetterState

RECORDS_AT_ONCE = 1_000


@dataclass(frozen=True, slots=True)
class HeldBack:
    """How many letters are held now, and how many were at the dot when the backup was made: those are in doubt."""

    held: int
    in_doubt: int


@dataclass(slots=True)
class Replayed:
    """What the journal knew: letters the book had as not out and has as sent now, letters that it lacked, letters
    that it knew as sent, and Message-IDs whose owner, pieces, visit or drop-off it does not have. `last_at`: when the
    last of them went out."""

    marked: int = 0
    written: int = 0
    known: int = 0
    unknown: list[str] = field(default_factory=list)
    last_at: datetime | None = None


@transaction.atomic
def hold_waiting() -> HeldBack:
    """Hold every letter that the backup has as not out, and the rounds to come. Call it before any worker starts.

    Also those of a round that was under way when the backup was made: it ended since, and they may be out.
    """
    waits = Q(state__in=[LetterState.WAITING, LetterState.HANDING_OVER])
    under_way = Q(state=LetterState.HELD, round__isnull=False, round__finished_at=None) & ~Q(reason=AFTER_RESTORE)
    held = Letter.objects.filter(waits | under_way).update(
        state=LetterState.HELD, lease_until=None, reason=AFTER_RESTORE
    )
    in_doubt = Letter.objects.filter(state=LetterState.AT_THE_DOT).update(
        state=LetterState.IN_DOUBT, lease_until=None, reason=AFTER_RESTORE
    )
    # Also where the backup had none: rounds are held from here on (rules.unusual).
    if held or in_doubt or not rounds_are_held_after_restore() or _brought_back_since():
        leave_trail(by=None, deed=Deed.HELD, subject=LETTERS, after={"held": held, "in_doubt": in_doubt})
    _hold_rounds()
    return HeldBack(held, in_doubt)


def replay(records: Iterable[Gone]) -> Replayed:
    """Bring the book to know what left the house. A letter that it never had is written, as sent, with its reminders
    and the secrets of its links. One transaction a letter that the book does not have as sent; of those that it has,
    which are nearly all, a thousand are looked at with one statement. An interrupted replay is simply run again.
    """
    result = Replayed()
    lines = iter(records)
    while some := list(islice(lines, RECORDS_AT_ONCE)):
        sent = _have_as_sent(some)
        for gone in some:
            if _named(gone.going) in sent:
                result.known += 1
            else:
                with transaction.atomic():
                    _replay_one(gone, result)
                    fault("replay")
            result.last_at = max(gone.at, result.last_at or gone.at)
    numbers_beyond_what_is_known()
    if result.last_at:
        _leave_trail_of(result, result.last_at)
    return result


def go_on(*, by: Staff | None, now: datetime) -> int:
    """Let the letters go that were held after a restore: invitations each in a morning of its owner, the others at once.

    How many. Some thousands a transaction, each with its row in the trail. Rounds to come go on as well; where no
    letter is held that is the machine's word alone, for the desk is shown the next round, and decides about it.
    """
    count = each_lot(held_letters(), lambda lot: _let_go(lot, by, now))
    if not count and by is None and rounds_are_held_after_restore():
        with transaction.atomic():
            _leave_word(0, by)
    if count:
        ring_after_commit()
    return count


def end_held(chosen: QuerySet[Letter], *, because: str, on: date, by: Staff) -> int:
    """End those letters of `chosen` that are held after a restore: nobody wants them any more. How many.

    Their reminders end with them; a later round may take these up again, where they are still due.
    """
    return each_lot(chosen & held_letters(), lambda lot: _end(lot, because, on, by))


def _brought_back_since() -> bool:
    """Whether a backup became this site, and nothing was held for it yet: this may be the second restore in a row."""
    told = Trail.objects.filter(Q(subject=RESTORED) | Q(subject=LETTERS, deed=Deed.HELD)).order_by("-pk")
    return told.values_list("subject", flat=True).first() == RESTORED


def _hold_rounds() -> None:
    """Every round that is there by now was before this restore: none of them, let go later, is a word about it."""
    last = Round.objects.aggregate(last=Max("pk"))["last"]
    if not RoundsHeld.objects.filter(released_at=None, last_round=last).exists():
        RoundsHeld.objects.create(last_round_id=last)


def _let_go(lot: QuerySet[Letter], by: Staff | None, now: datetime) -> int:
    count = let_wait(lot, reason="released after a restore", now=now)
    _leave_word(count, by)
    return count


def _leave_word(letters: int, by: Staff | None) -> None:
    RoundsHeld.objects.filter(released_at=None).update(released_at=Now())
    leave_trail(by=by, deed=Deed.WENT_ON, subject=LETTERS, after={"letters": letters}, reason=AFTER_RESTORE)


def _end(lot: QuerySet[Letter], because: str, on: date, by: Staff) -> int:
    letters = list(lot.values_list("pk", flat=True))
    end(Reminder.objects.filter(letter__in=letters, ended_on=None), on=on, because=because)
    # Word about visits and orders, and receipts, carry no reminders.
    lot.filter(state=LetterState.HELD).update(state=LetterState.ENDED, reason=because[:200])
    leave_trail(by=by, deed=Deed.ENDED, subject=LETTERS, after={"letters": letters}, reason=because)
    return len(letters)


def _leave_trail_of(result: Replayed, last_at: datetime) -> None:
    told = {
        "marked": result.marked,
        "written": result.written,
        "known": result.known,
        "unknown": len(result.unknown),
        "last_sent_at": last_at.isoformat(),
    }
    leave_trail(by=None, deed=Deed.JOURNALS_HEARD, subject=LETTERS, after=told)


def _named(going: Going) -> tuple[int, str, date]:
    """By what the book knows a letter of a record: its number alone may be another's by now."""
    return going.letter, going.owner, going.planned_on


def _have_as_sent(some: Sequence[Gone]) -> set[tuple[int, str, date]]:
    """Those of some records that the book has as sent, also where they came back since and are to be told. One statement."""
    letters = Letter.objects.filter(
        Q(state=LetterState.SENT) | Q(sent_at__isnull=False), pk__in={gone.going.letter for gone in some}
    )
    return set(letters.values_list("pk", "owner__code", "planned_on"))


def _replay_one(gone: Gone, result: Replayed) -> None:
    going = gone.going
    owner = Owner.objects.filter(code=going.owner).select_for_update(no_key=True).first()
    pieces = dict(Piece.objects.filter(serial__in={one.serial for one in going.reminders}).values_list("serial", "pk"))
    if owner is None or len(pieces) < len({one.serial for one in going.reminders}):
        result.unknown.append(going.message_id)
        return
    letter = Letter.objects.filter(pk=going.letter).first()
    theirs = letter is not None and letter.owner_id == owner.pk and letter.planned_on == going.planned_on
    # Under another number where its own could not be freed.
    under_another = Letter.objects.filter(message_id=going.message_id, owner=owner, state=LetterState.SENT)
    if (
        letter is not None and theirs and (letter.state == LetterState.SENT or letter.sent_at)
    ) or under_another.exists():
        result.known += 1
        return
    if going.sort != LetterSort.INVITATION and not theirs:
        # The backup lacks its visit or its drop-off too; what remains of it is in the owner's mailbox.
        result.unknown.append(going.message_id)
        return
    if not free_the_day(going, owner=owner.pk):
        # The same day's letter went out once more since: the owner has both, and the book has a row for one.
        result.unknown.append(going.message_id)
        return
    if letter is None or not theirs:
        letter = _write(going, owner, free_id=letter is None or free_the_number(letter))
        result.written += 1
    else:
        result.marked += 1
    Letter.objects.filter(pk=letter.pk).update(
        state=LetterState.SENT,
        sent_at=gone.at,
        reply=gone.reply,
        message_id=going.message_id,
        attempt=max(letter.attempt, going.attempt),
        lease_until=None,
        reason="sent, by the journal",
    )
    _carry(going, letter, pieces)
    OwnerLink.objects.bulk_create(
        [
            OwnerLink(letter=letter, purpose=one.purpose, token_hash=one.token_hash, expires_at=one.expires_at)
            for one in going.links
        ],
        ignore_conflicts=True,
    )


def _write(going: Going, owner: Owner, *, free_id: bool) -> Letter:
    """A letter that the backup lacks, under its own number where that is free: its Message-ID is made of it."""
    if not free_id:
        numbers_beyond_what_is_known()
    return Letter.objects.create(
        pk=going.letter if free_id else None,
        owner=owner,
        language=going.language,
        planned_on=going.planned_on,
        not_before=Now(),
        # Two letters of an owner may not be planned for one day; the one that is out has its state at once.
        state=LetterState.SENT.value,
    )


def _carry(going: Going, letter: Letter, pieces: dict[str, int]) -> None:
    """The letter carries the reminders of the record and no others; letters that this leaves empty end."""
    named = Q(pk__in=[])
    for one in going.reminders:
        named |= Q(piece=pieces[one.serial], kind=one.kind, starts_on=one.starts_on, step=one.step, year=one.year)
    elsewhere = set(Reminder.objects.filter(named).exclude(letter=letter).values_list("letter_id", flat=True))
    Reminder.objects.filter(letter=letter, ended_on=None).exclude(named).update(
        ended_on=going.planned_on, ended_because=NOT_IN_IT
    )
    Reminder.objects.filter(named).update(letter=letter, ended_on=None, ended_because="")
    Reminder.objects.bulk_create(
        [
            Reminder(
                piece_id=pieces[one.serial],
                kind=one.kind,
                starts_on=one.starts_on,
                step=one.step,
                year=one.year,
                due_on=one.due_on,
                letter=letter,
            )
            for one in going.reminders
        ],
        ignore_conflicts=True,
    )
    left = Reminder.objects.filter(letter=OuterRef("pk"), ended_on=None)
    Letter.objects.filter(~Exists(left), pk__in=elsewhere, state__in=NOT_OUT).update(
        state=LetterState.ENDED, lease_until=None, reason=AFTER_RESTORE
    )
