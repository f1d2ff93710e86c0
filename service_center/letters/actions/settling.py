"""What becomes of a letter in a sender's hands, written down: at the dot, sent, refused, later, in doubt, given back.

Every step is a compare-and-set that names the attempt and the sender: one that slept past its lease changes nothing.
The commit at the dot carries the `sent` of the letter before, so that a letter costs one commit.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from django.conf import settings
from django.db import connection, transaction
from django.db.models import Q, QuerySet
from django.db.models.functions import Now

from service_center.letters.actions import kept_plan, moments
from service_center.letters.actions.claiming import Claim
from service_center.letters.actions.ending import end_of_others
from service_center.letters.actions.given_rows import as_given, as_value
from service_center.letters.actions.reporting import Said, report
from service_center.letters.models import Letter, OwnerLink
from service_center.letters.queries.late import next_mornings
from service_center.letters.rules.bounces import BY_REPORT, Happened
from service_center.letters.rules.codes import Fault, Status
from service_center.letters.rules.handing import Outcome, Verdict, fault_in, pause_after
from service_center.letters.rules.words import LetterSort, LetterState, ReportSource

# What the reply to the dot may take on top of the wait itself.
DOT_MARGIN_SECONDS = 60

# The row of the letter before is one that took its 250: proof, however late. It also settles the doubt of somebody who
# gave this sender up, and outweighs what reports seemed to prove.
_AT_THE_DOT = """
    UPDATE letters_letter SET
        state = CASE WHEN id = %(letter)s THEN 'at_the_dot' ELSE 'sent' END,
        dot_at = CASE WHEN id = %(letter)s THEN {now} ELSE dot_at END,
        lease_until = CASE WHEN id = %(letter)s THEN {lease_until} END,
        sent_at = CASE WHEN id = %(letter)s THEN sent_at ELSE {now} END,
        reply = CASE WHEN id = %(letter)s THEN reply ELSE %(reply)s END,
        reason = CASE WHEN id = %(letter)s THEN reason ELSE '' END
    WHERE id = %(letter)s AND attempt = %(attempt)s AND claimed_by = %(by)s AND state = 'handing_over'
       OR id = %(taken)s AND attempt = %(taken_attempt)s AND claimed_by = %(taken_by)s
          AND (state <> 'sent' OR reason = %(by_report)s)
    RETURNING id
"""


@dataclass(frozen=True, slots=True)
class Taken:
    """A letter that a mail server took, and its words."""

    claim: Claim
    reply: str


def commit_the_dot(one: Claim, *, before: Taken | None = None) -> bool:
    """Write down that the end of the message goes out now, and that the letter before it was taken. One statement.

    False: the letter is no longer this sender's: hang up. The letter before it is written down all the same.
    """
    values: dict[str, kept_plan.Value] = {
        "letter": one.letter,
        "attempt": one.attempt,
        "by": one.by,
        "taken": before.claim.letter if before else None,
        "taken_attempt": before.claim.attempt if before else None,
        "taken_by": before.claim.by if before else None,
        "reply": before.reply if before else "",
        "by_report": BY_REPORT,
    }
    statement = _at_the_dot(kept_plan.of_this_thread().vendor, settings.MAIL_DOT_SECONDS + DOT_MARGIN_SECONDS)
    return one.letter in kept_plan.updated(statement, values)


@cache
def _at_the_dot(vendor: str, may_take: float) -> str:
    return _AT_THE_DOT.format(now=moments.now(vendor), lease_until=moments.in_seconds(may_take, vendor))


def note_taken(taken: Taken) -> None:
    """Write down that a letter was taken, without waiting for the next one."""
    _theirs(taken.claim).exclude(~Q(reason=BY_REPORT), state=LetterState.SENT).update(
        state=LetterState.SENT, sent_at=Now(), reply=taken.reply, reason="", lease_until=None
    )


def hold(one: Claim, because: str) -> None:
    """Leave a letter to the desk."""
    _theirs(one).filter(state=LetterState.HANDING_OVER).update(
        state=LetterState.HELD, lease_until=None, reason=because[:200]
    )


@transaction.atomic
def give_back(claims: Sequence[Claim]) -> None:
    """Put letters that were claimed and not begun back into the queue, as if they had never left it."""
    if not claims:
        return
    rows = [(one.letter, one.attempt, one.by) for one in claims]
    statement = f"""
        UPDATE letters_letter SET state = 'waiting', attempt = letters_letter.attempt - 1, lease_until = NULL
        FROM {as_given([("letter", "bigint"), ("attempt", "integer"), ("by", "text")])}
        WHERE id = given.letter AND letters_letter.attempt = given.attempt AND claimed_by = given."by"
            AND state = 'handing_over'
    """  # noqa: S608  # our own names and a place for one value
    with connection.cursor() as cursor:
        cursor.execute(statement, [as_value(rows)])
    # Secrets that nobody has been told.
    told_nobody = [link.token_hash for one in claims for link in one.going.links]
    OwnerLink.objects.filter(token_hash__one_of=told_nobody).delete()


def settle(one: Claim, outcome: Outcome, verdict: Verdict) -> LetterState:
    """Write down what became of a letter. Returns the state it is in now."""
    match verdict.state:
        case LetterState.SENT:
            note_taken(Taken(one, outcome.text))
        case LetterState.IN_DOUBT:
            _theirs(one).filter(state=LetterState.AT_THE_DOT).update(
                state=LetterState.IN_DOUBT, reply=outcome.text, reason="no answer to the end of the message",
                lease_until=None,
            )  # fmt: skip
        case LetterState.REFUSED:
            _refuse(one, outcome, verdict.fault)
        case _:
            return _try_later(one, outcome)
    return verdict.state


def _theirs(one: Claim) -> QuerySet[Letter]:
    return Letter.objects.filter(pk=one.letter, attempt=one.attempt, claimed_by=one.by)


def _in_hand(one: Claim) -> QuerySet[Letter]:
    return _theirs(one).filter(state__in=[LetterState.HANDING_OVER, LetterState.AT_THE_DOT])


def _try_later(one: Claim, outcome: Outcome) -> LetterState:
    before = Letter.objects.values_list("temporary_refusals", "owner_id", "sort", Now())
    refusals_before, owner, sort, now = before.get(pk=one.letter)  # by the database's clock
    refusals = refusals_before + 1
    pause = pause_after(refusals, one.letter)
    if pause is None:
        _refuse(one, outcome, fault_in(outcome))
        return LetterState.REFUSED
    again = now + pause
    _in_hand(one).update(
        state=LetterState.WAITING,
        temporary_refusals=refusals,
        not_before=next_mornings([owner], again)[owner] if sort == LetterSort.INVITATION else again,
        lease_until=None,
        reply=outcome.text,
        reason=f"not taken for now ({outcome.phase})",
    )
    return LetterState.WAITING


@transaction.atomic
def _refuse(one: Claim, outcome: Outcome, fault: Fault) -> None:
    # Whoever has the letter now may write to another address: this refusal would be held against that one.
    if not list(_theirs(one).select_for_update(no_key=True)):
        return
    _in_hand(one).update(
        state=LetterState.REFUSED, lease_until=None, reply=outcome.text, reason=f"refused ({outcome.phase})"
    )
    at = Letter.objects.values_list(Now(), flat=True).get(pk=one.letter)  # by the database's clock
    end_of_others(one.letter, on=at.date())
    report(
        Said(
            letter=one.letter,
            source=ReportSource.HAND_OVER,
            happened=Happened.FAILED,
            at=at,
            status=str(Status.found_in(outcome.text) or ""),
            words=outcome.text,
            fault=fault,
        )
    )
