"""Who may hand a letter over, and what became of it: every step a compare-and-set on the letter's row.

The state column is the queue. A claim counts the attempt up; every later write names that attempt, so that a sender
that slept past its lease changes nothing (design/letters.md, sent once; reliability.md, B1 and B2).
"""

import secrets
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Case, F, Q, Value, When
from django.db.models.functions import Now

from service_center.intervals.models import DueDate
from service_center.letters.actions.ending import still_holds
from service_center.letters.actions.reporting import Said, report
from service_center.letters.compose import LetterContent
from service_center.letters.models import Letter, OwnerLink, Reminder, StoppedAddress
from service_center.letters.queries.contents import contents_of
from service_center.letters.rules.addressing import message_id, one_address
from service_center.letters.rules.bounces import BY_REPORT, Happened
from service_center.letters.rules.codes import Fault, Status
from service_center.letters.rules.deciding import out_of_reach
from service_center.letters.rules.handing import Outcome, Verdict, fault_in, pause_after
from service_center.letters.rules.journal import Going, GoneLink, GoneReminder
from service_center.letters.rules.links import LINKS_LAST, SECRET_BYTES, hash_token
from service_center.letters.rules.words import LetterState, LinkPurpose, ReportSource

# What the reply to the dot may take on top of the wait itself.
DOT_MARGIN_SECONDS = 60


@dataclass(frozen=True, slots=True)
class Claim:
    """One letter in this sender's hands: everything it needs to be written and handed over."""

    letter: int
    attempt: int
    message_id: str
    to_name: str
    to_address: str
    page_token: str
    stop_token: str
    content: LetterContent
    going: Going


def put_back_the_abandoned() -> tuple[int, int]:
    """Letters whose lease ran out: those without the dot wait again, those with it are in doubt. How many of each."""
    over = Letter.objects.filter(lease_until__lt=Now())
    waiting = over.filter(state=LetterState.HANDING_OVER).update(
        state=LetterState.WAITING, lease_until=None, reason="the sender was lost before the end of the message"
    )
    in_doubt = over.filter(state=LetterState.AT_THE_DOT).update(
        state=LetterState.IN_DOUBT, lease_until=None, reason="the sender was lost while the server had the message"
    )
    return waiting, in_doubt


@transaction.atomic
def claim(ready: Q, *, by: str, at_most: int, on: date, now: datetime) -> tuple[int, list[Claim]]:
    """Take letters that are ready. How many left the queue, and those of them that are still to go.

    What changed since they were written counts: a reminder that no longer holds ends here, a letter without one too.
    """
    chosen = Letter.objects.filter(ready, state=LetterState.WAITING).order_by("not_before", "pk")
    rows = chosen.select_related("owner").select_for_update(skip_locked=True, no_key=True, of=("self",))
    letters = list(rows[:at_most])
    going = _still_to_go(letters, on)
    for letter in going:
        letter.attempt += 1
        letter.email = one_address(letter.owner.email) or ""
        letter.message_id = letter.message_id or message_id(
            letter.pk, secret=settings.SECRET_KEY, domain=settings.MAIL_FROM.rpartition("@")[2]
        )
    # Each row is written once: PostgreSQL would look at the owner of a row written twice, and wait for a round there.
    Letter.objects.filter(pk__in=[letter.pk for letter in going]).update(
        state=LetterState.HANDING_OVER,
        attempt=F("attempt") + 1,
        claimed_by=by[:100],
        lease_until=Now() + timedelta(seconds=settings.LETTER_LEASE_SECONDS),
        reason="",
        email=_each(going, "email"),
        message_id=_each(going, "message_id"),
    )
    return len(letters), _with_links(going, now)


def _each(letters: Sequence[Letter], field: str) -> Case:
    """Each row's own value in one statement for all."""
    return Case(*(When(pk=letter.pk, then=Value(getattr(letter, field))) for letter in letters), default=F(field))


def _with_links(letters: Sequence[Letter], now: datetime) -> list[Claim]:
    contents = contents_of(letters)
    reminders = _as_they_go(letters)
    claims, links = [], []
    for letter in letters:
        page, stop = secrets.token_urlsafe(SECRET_BYTES), secrets.token_urlsafe(SECRET_BYTES)
        of_letter = [
            OwnerLink(
                token_hash=hash_token(purpose, token), purpose=purpose.value, letter=letter, expires_at=now + LINKS_LAST
            )
            for purpose, token in ((LinkPurpose.PAGE, page), (LinkPurpose.STOP, stop))
        ]
        links += of_letter
        claims.append(
            Claim(
                letter=letter.pk,
                attempt=letter.attempt,
                message_id=letter.message_id or "",
                to_name=letter.owner.name,
                to_address=letter.email,
                page_token=page,
                stop_token=stop,
                content=contents[letter.pk],
                going=_going(letter, reminders[letter.pk], of_letter),
            )
        )
    OwnerLink.objects.bulk_create(links)
    return claims


def _as_they_go(letters: Sequence[Letter]) -> dict[int, list[GoneReminder]]:
    living: dict[int, list[GoneReminder]] = defaultdict(list)
    fields = ("letter_id", "piece__serial", "kind", "starts_on", "step", "due_on", "year")
    for letter, *key in Reminder.objects.filter(letter__in=letters, ended_on=None).values_list(*fields):
        living[letter].append(GoneReminder(*key))
    return living


def _going(letter: Letter, reminders: Sequence[GoneReminder], links: Sequence[OwnerLink]) -> Going:
    return Going(
        letter=letter.pk,
        owner=letter.owner.code,
        language=letter.language,
        planned_on=letter.planned_on,
        message_id=letter.message_id or "",
        attempt=letter.attempt,
        reminders=tuple(reminders),
        links=tuple(GoneLink(link.purpose, link.token_hash, link.expires_at) for link in links),
    )


def _still_to_go(letters: Sequence[Letter], on: date) -> list[Letter]:
    reminders = list(Reminder.objects.filter(letter__in=letters, ended_on=None).select_related("piece"))
    dues = {
        (row.piece_id, row.kind): row
        for row in DueDate.objects.filter(piece__in={reminder.piece_id for reminder in reminders})
    }
    emails = {letter.owner.email.lower() for letter in letters}
    stopped = set(StoppedAddress.objects.filter(email__in=emails).values_list("email", flat=True))
    of_letter: dict[int, list[Reminder]] = defaultdict(list)
    for reminder in reminders:
        of_letter[reminder.letter_id].append(reminder)
    going = []
    for letter in letters:
        why_not = _why_not(letter, letter.owner.email.lower() in stopped)
        over = [
            reminder
            for reminder in of_letter[letter.pk]
            if why_not
            or reminder.piece.owner_id != letter.owner_id
            or not still_holds(reminder, dues.get((reminder.piece_id, reminder.kind)))
        ]
        because = why_not or "settled, held or in other hands before it went out"
        if over:
            Reminder.objects.filter(pk__in=[reminder.pk for reminder in over]).update(
                ended_on=on, ended_because=because
            )
        if len(over) == len(of_letter[letter.pk]):
            Letter.objects.filter(pk=letter.pk).update(state=LetterState.ENDED, reason=because)
        else:
            going.append(letter)
    return going


def _why_not(letter: Letter, stopped: bool) -> str:  # noqa: FBT001  # one of four facts, named by its caller
    owner = letter.owner
    # The ground was there when the letter was written, and grounds are only ever added.
    reason = out_of_reach(
        has_owner=True, letters=owner.letters, has_ground=True, email=owner.email, stopped=stopped, held=""
    )
    if reason:
        return reason.value
    return "" if one_address(owner.email) else "no_email"


def commit_the_dot(one: Claim) -> bool:
    """Write down that the end of the message goes out now. False: the letter is no longer this sender's: hang up."""
    wait = timedelta(seconds=settings.MAIL_DOT_SECONDS + DOT_MARGIN_SECONDS)
    changed = Letter.objects.filter(pk=one.letter, attempt=one.attempt, state=LetterState.HANDING_OVER).update(
        state=LetterState.AT_THE_DOT,
        dot_at=Now(),
        lease_until=Now() + wait,
    )
    return changed == 1


def hold(one: Claim, because: str) -> None:
    """Leave a letter to the desk."""
    Letter.objects.filter(pk=one.letter, attempt=one.attempt, state=LetterState.HANDING_OVER).update(
        state=LetterState.HELD, lease_until=None, reason=because[:200]
    )


def give_back(claims: Sequence[Claim]) -> None:
    """Put letters that were claimed and not tried back into the queue."""
    for one in claims:
        Letter.objects.filter(pk=one.letter, attempt=one.attempt, state=LetterState.HANDING_OVER).update(
            state=LetterState.WAITING, lease_until=None
        )


def settle(one: Claim, outcome: Outcome, verdict: Verdict) -> LetterState:
    """Write down what became of a letter. Returns the state it is in now."""
    mine = Letter.objects.filter(pk=one.letter, attempt=one.attempt)
    match verdict.state:
        case LetterState.SENT:
            # A 250 is proof, however late: it also settles the doubt of somebody who gave this sender up, and outweighs
            # what reports seemed to prove.
            mine.exclude(~Q(reason=BY_REPORT), state=LetterState.SENT).update(
                state=LetterState.SENT, sent_at=Now(), reply=outcome.text, reason="", lease_until=None
            )
        case LetterState.IN_DOUBT:
            mine.filter(state=LetterState.AT_THE_DOT).update(
                state=LetterState.IN_DOUBT, reply=outcome.text, reason="no answer to the end of the message",
                lease_until=None,
            )  # fmt: skip
        case LetterState.REFUSED:
            _refuse(one, outcome, verdict.fault)
        case _:
            return _try_later(one, outcome)
    return verdict.state


def _in_hand(one: Claim) -> "Q":
    return Q(pk=one.letter, attempt=one.attempt, state__in=[LetterState.HANDING_OVER, LetterState.AT_THE_DOT])


def _try_later(one: Claim, outcome: Outcome) -> LetterState:
    refusals = Letter.objects.values_list("temporary_refusals", flat=True).get(pk=one.letter) + 1
    pause = pause_after(refusals, one.letter)
    if pause is None:
        _refuse(one, outcome, fault_in(outcome))
        return LetterState.REFUSED
    Letter.objects.filter(_in_hand(one)).update(
        state=LetterState.WAITING,
        temporary_refusals=refusals,
        not_before=Now() + pause,
        lease_until=None,
        reply=outcome.text,
        reason=f"not taken for now ({outcome.phase})",
    )
    return LetterState.WAITING


@transaction.atomic
def _refuse(one: Claim, outcome: Outcome, fault: Fault) -> None:
    Letter.objects.filter(_in_hand(one)).update(
        state=LetterState.REFUSED, lease_until=None, reply=outcome.text, reason=f"refused ({outcome.phase})"
    )
    report(
        Said(
            letter=one.letter,
            source=ReportSource.HAND_OVER,
            happened=Happened.FAILED,
            at=Letter.objects.values_list(Now(), flat=True).get(pk=one.letter),  # by the database's clock
            status=str(Status.found_in(outcome.text) or ""),
            words=outcome.text,
            fault=fault,
        )
    )
