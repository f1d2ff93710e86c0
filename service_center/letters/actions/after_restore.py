"""After a backup was brought back: nothing goes out until the desk says so, and nothing that is out goes again.

The backup still holds as waiting what has gone out since. `hold_waiting` stops it, `replay` marks what the sent
journal knows, and `go_on` lets the rest go (design/letters.md, sent once; reliability.md, B3). All of it may be
repeated.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.models import Exists, OuterRef, Q
from django.db.models.functions import Now

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.book.models import Owner, Piece
from service_center.letters.doorbell import ring_after_commit
from service_center.letters.faults import fault
from service_center.letters.models import Letter, OwnerLink, Reminder
from service_center.letters.rules.journal import Going, Gone
from service_center.letters.rules.words import AFTER_RESTORE, LetterSort, LetterState

NOT_IN_IT = "not in the letter that went out before the restore"
NOT_OUT = (LetterState.WAITING, LetterState.HANDING_OVER, LetterState.HELD)


@dataclass(frozen=True, slots=True)
class HeldBack:
    """How many letters are held now, and how many were at the dot when the backup was made: those are in doubt."""

    held: int
    in_doubt: int


@dataclass(slots=True)
class Replayed:
    """What the journal knew: letters the book had as not out and has as sent now, letters that it lacked, letters
    that it knew as sent, and Message-IDs whose owner, pieces, visit or drop-off it does not have."""

    marked: int = 0
    written: int = 0
    known: int = 0
    unknown: list[str] = field(default_factory=list)


@transaction.atomic
def hold_waiting() -> HeldBack:
    """Hold every letter that the backup has as not out. Call it before any worker starts."""
    held = Letter.objects.filter(state__in=[LetterState.WAITING, LetterState.HANDING_OVER]).update(
        state=LetterState.HELD, lease_until=None, reason=AFTER_RESTORE
    )
    in_doubt = Letter.objects.filter(state=LetterState.AT_THE_DOT).update(
        state=LetterState.IN_DOUBT, lease_until=None, reason=AFTER_RESTORE
    )
    return HeldBack(held, in_doubt)


def replay(records: Iterable[Gone]) -> Replayed:
    """Bring the book to know what left the house. A letter that it never had is written, as sent, with its reminders
    and the secrets of its links. One transaction a letter; an interrupted replay is simply run again.
    """
    result = Replayed()
    for gone in records:
        with transaction.atomic():
            _replay_one(gone, result)
            fault("replay")
    _ids_beyond_what_is_known()
    return result


@transaction.atomic
def go_on(*, by: Staff | None) -> int:
    """Let the letters go that were held after a restore. How many."""
    count = Letter.objects.filter(state=LetterState.HELD, reason=AFTER_RESTORE).update(
        state=LetterState.WAITING, not_before=Now(), reason="released after a restore"
    )
    leave_trail(by=by, deed="letters_go_on", subject="letters", after={"letters": count}, reason=AFTER_RESTORE)
    ring_after_commit()
    return count


def _replay_one(gone: Gone, result: Replayed) -> None:
    going = gone.going
    owner = Owner.objects.filter(code=going.owner).select_for_update(no_key=True).first()
    pieces = dict(Piece.objects.filter(serial__in={one.serial for one in going.reminders}).values_list("serial", "pk"))
    if owner is None or len(pieces) < len({one.serial for one in going.reminders}):
        result.unknown.append(going.message_id)
        return
    letter = Letter.objects.filter(pk=going.letter).first()
    theirs = letter is not None and letter.owner_id == owner.pk and letter.planned_on == going.planned_on
    if letter is not None and theirs and letter.state == LetterState.SENT:
        result.known += 1
        return
    if going.sort != LetterSort.INVITATION and not theirs:
        # The backup lacks its visit or its drop-off too; what remains of it is in the owner's mailbox.
        result.unknown.append(going.message_id)
        return
    if letter is None or not theirs:
        letter = _write(going, owner, free_id=letter is None)
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


def _ids_beyond_what_is_known() -> None:
    """New letters get numbers beyond those that the journal brought back. SQLite sees to it by itself."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), [Letter]):
            cursor.execute(statement)
