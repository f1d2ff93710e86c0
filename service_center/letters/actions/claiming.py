"""Who may hand a letter over. The state column is the queue.

A claim counts the attempt up and names the sender; every later write (`settling.py`) names both, so that a sender that
slept past its lease changes nothing (design/letters.md, sent once; reliability.md, B1 and B2).
"""

import secrets
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from django.conf import settings
from django.db import connection, transaction
from django.db.models import Q

from service_center.book.wording import language_of
from service_center.intervals.models import DueDate
from service_center.letters.actions import moments
from service_center.letters.actions.answering import ENDS
from service_center.letters.actions.desk import SENT_AGAIN
from service_center.letters.actions.ending import still_holds
from service_center.letters.actions.given_rows import as_given, as_value
from service_center.letters.actions.late import in_their_morning
from service_center.letters.actions.wording import keep_wordings
from service_center.letters.models import Confirmation, Letter, Reminder, StoppedAddress
from service_center.letters.queries.contents import Tell, all_read_of
from service_center.letters.queries.overtaken import overtaken
from service_center.letters.queries.said_since import last_words
from service_center.letters.rules.addressing import message_id, one_address
from service_center.letters.rules.deciding import out_of_reach
from service_center.letters.rules.journal import Going, GoneLink, GoneReminder
from service_center.letters.rules.links import LINKS_LAST, SECRET_BYTES, hash_token
from service_center.letters.rules.restored import NAME_IS_BORNE
from service_center.letters.rules.words import Channel, LetterSort, LetterState, LinkPurpose

# Word about a visit opens the page on which it was booked, word about an order a page of its own, and there is nothing
# to stop. A receipt has no page.
OPENED_BY = {
    LetterSort.INVITATION: (LinkPurpose.PAGE, LinkPurpose.STOP),
    LetterSort.CONFIRMATION: (LinkPurpose.PAGE,),
    LetterSort.RECEIPT: (),
    LetterSort.ORDER: (LinkPurpose.PAGE,),
}

SETTLED = "settled, held or in other hands before it went out"


@dataclass(frozen=True, slots=True)
class Claim:
    """One letter in this sender's hands: everything it needs to be written and handed over. `tell`: what it says."""

    letter: int
    attempt: int
    by: str
    message_id: str
    to_name: str
    to_address: str
    page_token: str
    stop_token: str
    tell: Tell
    going: Going


class _Living(NamedTuple):
    """A reminder that has not ended: named as the database is asked, for hundreds are read at once."""

    pk: int
    letter_id: int
    piece_id: int
    piece__serial: str
    piece__owner_id: int | None
    kind: str
    starts_on: date
    step: str
    due_on: date
    year: int


class _Interval(NamedTuple):
    """What counts now for one kind of a piece."""

    held: str
    starts_on: date | None


@transaction.atomic
def claim(
    ready: Q, *, by: str, at_most: int, on: date, now: datetime, at_any_hour: bool = False
) -> tuple[int, list[Claim]]:
    """Take letters that are ready. How many left the queue, and those of them that are still to go.

    What changed since they were written counts: a reminder that no longer holds ends here, a letter without one too.
    An invitation that is late rests until its owner's morning, unless it may leave `at_any_hour`.
    Each speaks from this day where its owner lives; an `on` other than today's stands for today everywhere.
    """
    chosen = Letter.objects.filter(ready, state=LetterState.WAITING, channel=Channel.MAIL).order_by("not_before", "pk")
    rows = chosen.select_related("owner").select_for_update(skip_locked=True, no_key=True, of=("self",))
    letters = list(rows[:at_most])
    going, reminders = _still_to_go(letters if at_any_hour else in_their_morning(letters, now), on)
    going = _named(going)
    for letter in going:
        # An invitation speaks its owner's language of now; what others tell was written down in one. The desk sends
        # again what may be out: that goes as the same message.
        if letter.sort == LetterSort.INVITATION and letter.reason != SENT_AGAIN:
            letter.language = language_of(letter.owner)
    wordings = keep_wordings({letter.language for letter in going})
    for letter in going:
        letter.attempt += 1
        letter.email = one_address(letter.owner.email) or ""
        # One that may have gone out already goes again as the same message.
        if not (letter.dot_at and letter.wording and letter.wording.language == letter.language):
            letter.wording = wordings[letter.language]
    _take(going, by)
    contents = all_read_of(going, now=now, on=None if on == now.date() else on)
    return len(letters), _with_links(going, reminders, contents, by, now)


def _named(letters: Sequence[Letter]) -> list[Letter]:
    """Give each its Message-ID. One whose name another letter went out under, before a restore, is the desk's: whatever
    came back about that one would be held against this one, and no two rows may bear it."""
    fresh = [letter for letter in letters if not letter.message_id]
    for letter in fresh:
        letter.message_id = message_id(
            letter.pk, secret=settings.SECRET_KEY, domain=settings.MAIL_FROM.rpartition("@")[2]
        )
    names = [letter.message_id for letter in fresh]
    borne = (
        set(Letter.objects.filter(message_id__one_of=names).values_list("message_id", flat=True)) if names else set()
    )
    if not borne:
        return list(letters)
    others = {letter.pk for letter in fresh if letter.message_id in borne}
    Letter.objects.filter(pk__in=others).update(state=LetterState.HELD, reason=NAME_IS_BORNE)
    return [letter for letter in letters if letter.pk not in others]


def _take(letters: Sequence[Letter], by: str) -> None:
    """Each row is written once, with values of its own: PostgreSQL would look at the owner of a row written twice, and
    wait for a round there. One statement; as one CASE a column it would take longer to write than to carry out."""
    if not letters:
        return
    rows = [(letter.pk, letter.email, letter.message_id, letter.wording_id, letter.language) for letter in letters]
    given = as_given(
        [("letter", "bigint"), ("email", "text"), ("message_id", "text"), ("wording", "bigint"), ("language", "text")]
    )
    statement = f"""
        UPDATE letters_letter SET
            state = 'handing_over', attempt = attempt + 1, claimed_by = %s, reason = '',
            lease_until = {moments.in_seconds(settings.LETTER_LEASE_SECONDS, connection.vendor)},
            email = given.email, message_id = given.message_id, wording_id = given.wording,
            language = given.language
        FROM {given}
        WHERE id = given.letter
    """  # noqa: S608  # nothing but numbers, our own names and places for values
    with connection.cursor() as cursor:
        cursor.execute(statement, [by, as_value(rows)])


def _with_links(
    letters: Sequence[Letter],
    reminders: Mapping[int, Sequence[GoneReminder]],
    contents: Mapping[int, Tell],
    by: str,
    now: datetime,
) -> list[Claim]:
    opens = _pages_of_visits(letters)
    claims, links = [], []
    expires_at = now + LINKS_LAST
    for letter in letters:
        tokens = {purpose: secrets.token_urlsafe(SECRET_BYTES) for purpose in OPENED_BY[LetterSort(letter.sort)]}
        of_letter = tuple(
            GoneLink(purpose.value, hash_token(purpose, token), expires_at) for purpose, token in tokens.items()
        )
        links += [(opens.get(letter.pk, letter.pk), link) for link in of_letter]
        claims.append(
            Claim(
                letter=letter.pk,
                attempt=letter.attempt,
                by=by,
                message_id=letter.message_id or "",
                to_name=letter.owner.name,
                to_address=letter.email,
                page_token=tokens.get(LinkPurpose.PAGE, ""),
                stop_token=tokens.get(LinkPurpose.STOP, ""),
                tell=contents[letter.pk],
                going=_going(letter, reminders[letter.pk], () if letter.pk in opens else of_letter),
            )
        )
    _add_links(links, now)
    return claims


def _add_links(links: Sequence[tuple[int, GoneLink]], now: datetime) -> None:
    """Each with the letter whose page it opens. One statement by hand: two rows a letter, and nothing is made of them."""
    if not links:
        return
    rows = [(link.token_hash, link.purpose, letter) for letter, link in links]
    stored = connection.ops.adapt_datetimefield_value
    statement = f"""
        INSERT INTO letters_ownerlink (token_hash, purpose, letter_id, made_at, expires_at)
        SELECT given.token_hash, given.purpose, given.letter, %s, %s
        FROM {as_given([("token_hash", "text"), ("purpose", "text"), ("letter", "bigint")])}
    """  # noqa: S608  # our own names and places for values
    with connection.cursor() as cursor:
        cursor.execute(statement, [stored(now), stored(now + LINKS_LAST), as_value(rows)])


def _pages_of_visits(letters: Sequence[Letter]) -> dict[int, int]:
    visits = [letter.pk for letter in letters if letter.sort == LetterSort.CONFIRMATION]
    if not visits:
        return {}
    return dict(Confirmation.objects.filter(letter__in=visits).values_list("letter_id", "opens_id"))


def _going(letter: Letter, reminders: Sequence[GoneReminder], links: tuple[GoneLink, ...]) -> Going:
    return Going(
        letter=letter.pk,
        owner=letter.owner.code,
        sort=letter.sort,
        language=letter.language,
        planned_on=letter.planned_on,
        message_id=letter.message_id or "",
        attempt=letter.attempt,
        reminders=tuple(reminders),
        links=links,
    )


def _still_to_go(letters: Sequence[Letter], on: date) -> tuple[list[Letter], dict[int, list[GoneReminder]]]:
    """Those that go, and by letter the reminders that go with them. The others end."""
    if not letters:
        return [], {}
    living = Reminder.objects.filter(letter_id__one_of=[letter.pk for letter in letters], ended_on=None).values_list(
        *_Living._fields
    )
    reminders = [_Living(*row) for row in living]
    rows = DueDate.objects.filter(piece_id__one_of={reminder.piece_id for reminder in reminders})
    dues = {
        (piece, kind): _Interval(held, starts_on)
        for piece, kind, held, starts_on in rows.values_list("piece_id", "kind", "held", "starts_on")
    }
    emails = {letter.owner.email.lower() for letter in letters}
    stopped = set(StoppedAddress.objects.filter(email__one_of=emails).values_list("email", flat=True))
    of_letter: dict[int, list[_Living]] = defaultdict(list)
    for reminder in reminders:
        of_letter[reminder.letter_id].append(reminder)
    going: list[Letter] = []
    go_with: dict[int, list[GoneReminder]] = {}
    no_longer_so = overtaken(letters)
    said = last_words({one.piece_id for one in reminders}, since=min(letter.written_at for letter in letters))
    for letter in letters:
        why_not = no_longer_so.get(letter.pk) or _why_not(letter, letter.owner.email.lower() in stopped)
        over: dict[str, list[int]] = defaultdict(list)
        goes: list[GoneReminder] = []
        for reminder in of_letter[letter.pk]:
            choice = said.keeping_back(letter, reminder.piece_id, on)
            due = dues.get((reminder.piece_id, reminder.kind))
            if why_not:
                over[why_not].append(reminder.pk)
            elif reminder.piece__owner_id != letter.owner_id or not still_holds(reminder, due):
                over[SETTLED].append(reminder.pk)
            elif choice:
                over[ENDS[choice]].append(reminder.pk)
            else:
                goes.append(_as_it_goes(reminder))
        for because, ended in over.items():
            Reminder.objects.filter(pk__in=ended).update(ended_on=on, ended_because=because)
        invites = letter.sort == LetterSort.INVITATION
        if bool(why_not) if not invites else not goes:
            because = why_not or (next(iter(over)) if len(over) == 1 else SETTLED)
            Letter.objects.filter(pk=letter.pk).update(state=LetterState.ENDED, reason=because)
        else:
            going.append(letter)
            go_with[letter.pk] = goes
    return going, go_with


def _as_it_goes(reminder: _Living) -> GoneReminder:
    return GoneReminder(
        reminder.piece__serial, reminder.kind, reminder.starts_on, reminder.step, reminder.due_on, reminder.year
    )


def _why_not(letter: Letter, stopped: bool) -> str:  # noqa: FBT001  # one of four facts, named by its caller
    owner = letter.owner
    # Word about a visit or an order, or a receipt, goes to everyone whom it can reach: it is no advertising (facts.md, 7). The
    # ground of the others was there when the letter was written, and grounds are only ever added.
    asked = owner.letters if letter.sort == LetterSort.INVITATION else True
    reason = out_of_reach(has_owner=True, letters=asked, has_ground=True, email=owner.email, stopped=stopped, held="")
    if reason:
        return reason.value
    return "" if one_address(owner.email) else "no_email"
