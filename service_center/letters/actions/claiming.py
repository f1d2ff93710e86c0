"""Who may hand a letter over. The state column is the queue.

A claim counts the attempt up and names the sender; every later write (`settling.py`) names both, so that a sender that
slept past its lease changes nothing (design/letters.md, sent once; reliability.md, B1 and B2).
"""

import secrets
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.db import connection, transaction
from django.db.models import F, Q

from service_center.intervals.models import DueDate
from service_center.letters.actions import moments
from service_center.letters.actions.ending import still_holds
from service_center.letters.actions.wording import keep_wordings
from service_center.letters.compose import Content
from service_center.letters.models import Confirmation, Letter, OwnerLink, Reminder, StoppedAddress
from service_center.letters.queries.contents import all_contents_of
from service_center.letters.rules.addressing import message_id, one_address
from service_center.letters.rules.deciding import out_of_reach
from service_center.letters.rules.journal import Going, GoneLink, GoneReminder
from service_center.letters.rules.links import LINKS_LAST, SECRET_BYTES, hash_token
from service_center.letters.rules.words import LetterSort, LetterState, LinkPurpose


@dataclass(frozen=True, slots=True)
class Claim:
    """One letter in this sender's hands: everything it needs to be written and handed over."""

    letter: int
    attempt: int
    by: str
    message_id: str
    to_name: str
    to_address: str
    page_token: str
    stop_token: str
    content: Content
    going: Going


@transaction.atomic
def claim(ready: Q, *, by: str, at_most: int, on: date, now: datetime) -> tuple[int, list[Claim]]:
    """Take letters that are ready. How many left the queue, and those of them that are still to go.

    What changed since they were written counts: a reminder that no longer holds ends here, a letter without one too.
    """
    chosen = Letter.objects.filter(ready, state=LetterState.WAITING).order_by("not_before", "pk")
    rows = chosen.select_related("owner").select_for_update(skip_locked=True, no_key=True, of=("self",))
    letters = list(rows[:at_most])
    going, reminders = _still_to_go(letters, on)
    wordings = keep_wordings({letter.language for letter in going})
    for letter in going:
        letter.attempt += 1
        letter.email = one_address(letter.owner.email) or ""
        # One that may have gone out already goes again as the same message.
        letter.wording = letter.wording if letter.wording_id and letter.dot_at else wordings[letter.language]
        letter.message_id = letter.message_id or message_id(
            letter.pk, secret=settings.SECRET_KEY, domain=settings.MAIL_FROM.rpartition("@")[2]
        )
    _take(going, by)
    return len(letters), _with_links(going, reminders, by, now)


def _take(letters: Sequence[Letter], by: str) -> None:
    """Each row is written once, with values of its own: PostgreSQL would look at the owner of a row written twice, and
    wait for a round there. One statement; as one CASE a column it would take longer to write than to carry out."""
    if not letters:
        return
    given = [value for letter in letters for value in (letter.pk, letter.email, letter.message_id, letter.wording_id)]
    statement = f"""
        UPDATE letters_letter SET
            state = 'handing_over', attempt = attempt + 1, claimed_by = %s, reason = '',
            lease_until = {moments.in_seconds(settings.LETTER_LEASE_SECONDS)},
            email = given.column2, message_id = given.column3,
            wording_id = CAST(given.column4 AS bigint)
        FROM (VALUES {", ".join(["(%s, %s, %s, %s)"] * len(letters))}) AS given
        WHERE id = given.column1
    """  # noqa: S608  # nothing but numbers and places for values
    with connection.cursor() as cursor:
        cursor.execute(statement, [by, *given])


def _with_links(
    letters: Sequence[Letter], reminders: Mapping[int, Sequence[GoneReminder]], by: str, now: datetime
) -> list[Claim]:
    contents = all_contents_of(letters)
    opens = _pages_of_visits(letters)
    claims, links = [], []
    for letter in letters:
        page, stop = secrets.token_urlsafe(SECRET_BYTES), secrets.token_urlsafe(SECRET_BYTES)
        # Word about a visit opens the page on which it was booked, and there is nothing to stop.
        invites = letter.pk not in opens
        tokens = {LinkPurpose.PAGE: page} | ({LinkPurpose.STOP: stop} if invites else {})
        of_letter = [
            OwnerLink(
                token_hash=hash_token(purpose, token),
                purpose=purpose.value,
                letter_id=opens.get(letter.pk, letter.pk),
                expires_at=now + LINKS_LAST,
            )
            for purpose, token in tokens.items()
        ]
        links += of_letter
        claims.append(
            Claim(
                letter=letter.pk,
                attempt=letter.attempt,
                by=by,
                message_id=letter.message_id or "",
                to_name=letter.owner.name,
                to_address=letter.email,
                page_token=page,
                stop_token=tokens.get(LinkPurpose.STOP, ""),
                content=contents[letter.pk],
                going=_going(letter, reminders[letter.pk], of_letter if invites else []),
            )
        )
    OwnerLink.objects.bulk_create(links)
    return claims


def _pages_of_visits(letters: Sequence[Letter]) -> dict[int, int]:
    visits = [letter.pk for letter in letters if letter.sort == LetterSort.CONFIRMATION]
    if not visits:
        return {}
    return dict(Confirmation.objects.filter(letter__in=visits).values_list("letter_id", "opens_id"))


def _going(letter: Letter, reminders: Sequence[GoneReminder], links: Sequence[OwnerLink]) -> Going:
    return Going(
        letter=letter.pk,
        owner=letter.owner.code,
        sort=letter.sort,
        language=letter.language,
        planned_on=letter.planned_on,
        message_id=letter.message_id or "",
        attempt=letter.attempt,
        reminders=tuple(reminders),
        links=tuple(GoneLink(link.purpose, link.token_hash, link.expires_at) for link in links),
    )


def _still_to_go(letters: Sequence[Letter], on: date) -> tuple[list[Letter], dict[int, list[GoneReminder]]]:
    """Those that go, and by letter the reminders that go with them. The others end."""
    living = Reminder.objects.filter(letter__in=letters, ended_on=None)
    reminders = list(living.annotate(piece_owner=F("piece__owner_id"), piece_serial=F("piece__serial")))
    dues = {
        (row.piece_id, row.kind): row
        for row in DueDate.objects.filter(piece__in={reminder.piece_id for reminder in reminders})
    }
    emails = {letter.owner.email.lower() for letter in letters}
    stopped = set(StoppedAddress.objects.filter(email__in=emails).values_list("email", flat=True))
    of_letter: dict[int, list[Any]] = defaultdict(list)  # reminders, with what was asked of their pieces
    for reminder in reminders:
        of_letter[reminder.letter_id].append(reminder)
    going: list[Letter] = []
    go_with: dict[int, list[GoneReminder]] = {}
    for letter in letters:
        why_not = _why_not(letter, letter.owner.email.lower() in stopped)
        over = [
            reminder
            for reminder in of_letter[letter.pk]
            if why_not
            or reminder.piece_owner != letter.owner_id
            or not still_holds(reminder, dues.get((reminder.piece_id, reminder.kind)))
        ]
        because = why_not or "settled, held or in other hands before it went out"
        if over:
            Reminder.objects.filter(pk__in=[reminder.pk for reminder in over]).update(
                ended_on=on, ended_because=because
            )
        confirms = letter.sort == LetterSort.CONFIRMATION
        if why_not if confirms else len(over) == len(of_letter[letter.pk]):
            Letter.objects.filter(pk=letter.pk).update(state=LetterState.ENDED, reason=because)
        else:
            going.append(letter)
            go_with[letter.pk] = [_as_it_goes(reminder) for reminder in of_letter[letter.pk] if reminder not in over]
    return going, go_with


def _as_it_goes(reminder: Any) -> GoneReminder:
    """`reminder`: with its piece's serial."""
    return GoneReminder(
        reminder.piece_serial, reminder.kind, reminder.starts_on, reminder.step, reminder.due_on, reminder.year
    )


def _why_not(letter: Letter, stopped: bool) -> str:  # noqa: FBT001  # one of four facts, named by its caller
    owner = letter.owner
    # Word about a visit goes to everyone whom it can reach: it is no advertising (facts.md, 7). The ground of the others
    # was there when the letter was written, and grounds are only ever added.
    asked = True if letter.sort == LetterSort.CONFIRMATION else owner.letters
    reason = out_of_reach(has_owner=True, letters=asked, has_ground=True, email=owner.email, stopped=stopped, held="")
    if reason:
        return reason.value
    return "" if one_address(owner.email) else "no_email"
