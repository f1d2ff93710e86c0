"""Writing down what was said about a letter on its way, and what follows for its address, its owner, its doubt.

Reports may come twice, in any order, and before the hand-over was written down: everything that follows is worked out
anew from all of them (design/reliability.md, B2, bounces back).
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from django.db import transaction
from django.db.models import Count, Exists, Max, OuterRef, Q
from django.db.models.functions import Now

from service_center.access.actions import leave_trail
from service_center.access.models import Staff
from service_center.letters.actions.answering import record_answer
from service_center.letters.actions.ending import end_of_others
from service_center.letters.models import (
    AddressLifted,
    DeliveryReport,
    Letter,
    ProviderCall,
    ReturnedMail,
    StoppedAddress,
)
from service_center.letters.rules.addressing import one_address
from service_center.letters.rules.bounces import (
    BY_REPORT,
    SOFT_ONES_THAT_STOP,
    SOFT_ONES_WITHIN,
    WANTS_NO_MORE,
    Happened,
    SoftFailure,
    doubt_settled,
    enough_soft_ones,
)
from service_center.letters.rules.codes import Fault
from service_center.letters.rules.words import AnswerChoice, LetterState, ReportSource

WORDS_KEPT = 1_000
# How far the clock of whoever reports may be behind ours, where a letter went out more than once.
CLOCKS_DIFFER = timedelta(hours=1)
DOUBTS_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class Said:
    """One thing that somebody said of a letter."""

    letter: int
    source: ReportSource
    happened: Happened
    at: datetime
    status: str
    words: str
    fault: Fault
    mail: ReturnedMail | None = None
    call: ProviderCall | None = None


@transaction.atomic
def report(said: Said) -> bool:
    """Write one report down, with all that follows. False: it is known already, or speaks of no letter of ours."""
    letter = Letter.objects.filter(pk=said.letter).select_related("owner").first()
    if letter is None:
        return False
    written, is_new = DeliveryReport.objects.get_or_create(
        source=said.source.value,
        letter=letter,
        happened=said.happened.value,
        happened_at=said.at,
        defaults={
            "email": _address_of(letter, said),
            "status": said.status,
            "words": said.words[:WORDS_KEPT],
            "fault": said.fault.value,
            "mail": said.mail,
            "call": said.call,
            "recorded_at": Now(),
        },
    )
    if is_new:
        _conclude(written, letter)
    return is_new


def _address_of(letter: Letter, said: Said) -> str:
    """The address the letter went to: never one that a report names, or anybody could have any address stopped.

    Empty where the report speaks of an earlier copy, which may have gone elsewhere.
    """
    earlier = letter.attempt > 1 and letter.dot_at is not None and said.at < letter.dot_at - CLOCKS_DIFFER
    if earlier and said.source is not ReportSource.HAND_OVER:
        return ""
    # As the book spells it, where that is the same: a domain in another script goes out in ASCII.
    return (letter.owner.email if one_address(letter.owner.email) == letter.email else letter.email).lower()


def _conclude(written: DeliveryReport, letter: Letter) -> None:
    if written.happened == Happened.FAILED and written.email:
        conclude_address(written.email)
    if written.happened in WANTS_NO_MORE and letter.owner.letters is not False:
        record_answer(
            owner=letter.owner,
            letter=letter,
            piece=None,
            choice=AnswerChoice.NO_MORE_LETTERS,
            day=None,
            boutique=None,
            on=written.happened_at.astimezone(UTC).date(),
            by=None,
        )
    _settle_doubt(letter.pk)


def conclude_address(email: str) -> None:
    """Stop an address if what was reported of it since the desk last lifted its stop asks for it."""
    lifted = AddressLifted.objects.filter(email=email).aggregate(at=Max("at"))["at"]
    failures = DeliveryReport.objects.filter(email=email, happened=Happened.FAILED).order_by(
        "happened_at", "letter_id", "source"
    )
    if lifted:
        failures = failures.filter(happened_at__gt=lifted)
    for_good = failures.filter(fault=Fault.ADDRESS).first()
    soft = [] if for_good else list(failures.filter(fault=Fault.FOR_NOW))
    if not for_good and not enough_soft_ones(SoftFailure(one.letter_id, one.happened_at) for one in soft):
        return
    why = for_good or soft[-1]
    values = {"because": why.words, "status": why.status, "fault": why.fault, "letter_id": why.letter_id}
    StoppedAddress.objects.bulk_create([StoppedAddress(email=email, stopped_at=Now(), **values)], ignore_conflicts=True)
    StoppedAddress.objects.filter(email=email).exclude(**values).update(**values)


@transaction.atomic
def _settle_doubt(letter_id: int) -> bool:
    """What the reports prove of a letter that was in doubt, or that reports settled before. Whether it changed."""
    by_reports = Q(state__in=[LetterState.SENT, LetterState.REFUSED], reason=BY_REPORT)
    letter = (
        Letter.objects.filter(Q(state=LetterState.IN_DOUBT) | by_reports, pk=letter_id, dot_at__isnull=False)
        .select_for_update(no_key=True)
        .first()
    )
    if letter is None:
        return False
    # What was said before is of an earlier try, whose end is known.
    of_this_copy = letter.reports.filter(recorded_at__gte=letter.dot_at).exclude(email="")
    state = doubt_settled(Happened(one) for one in of_this_copy.values_list("happened", flat=True))
    if state is None or state == letter.state:
        return False
    letter.state, letter.reason, letter.lease_until = state.value, BY_REPORT, None
    letter.sent_at = letter.dot_at if state is LetterState.SENT else None
    letter.save(update_fields=["state", "reason", "lease_until", "sent_at"])
    if state is LetterState.REFUSED:
        at = Letter.objects.values_list(Now(), flat=True).get(pk=letter.pk)  # by the database's clock
        end_of_others(letter.pk, on=at.date())
    return True


def conclude_what_is_left() -> int:
    """What one report alone could not conclude. How many doubts were settled.

    A letter that fell into doubt after its report came; an address whose last failures were written side by side.
    """
    proof = DeliveryReport.objects.filter(letter=OuterRef("pk"), recorded_at__gte=OuterRef("dot_at"))
    doubtful = Letter.objects.filter(Exists(proof), state=LetterState.IN_DOUBT).order_by("pk")
    settled = sum(_settle_doubt(pk) for pk in doubtful.values_list("pk", flat=True)[:DOUBTS_AT_ONCE])
    soft = DeliveryReport.objects.filter(
        fault=Fault.FOR_NOW, happened=Happened.FAILED, happened_at__gte=Now() - SOFT_ONES_WITHIN
    ).exclude(email="")
    stopped = StoppedAddress.objects.filter(email=OuterRef("email"))
    many = soft.order_by().values("email").annotate(n=Count("pk")).filter(~Exists(stopped), n__gte=SOFT_ONES_THAT_STOP)
    for email in [row["email"] for row in many]:
        conclude_address(email)
    return settled


@transaction.atomic
def write_again(stopped: StoppedAddress, *, by: Staff, reason: str, at: datetime) -> None:
    """Lift the stop of an address. What was reported before counts no longer; the trail names the owner, not the address."""
    AddressLifted.objects.create(email=stopped.email, at=at, by=by, reason=reason)
    leave_trail(
        by=by,
        deed="address_lifted",
        subject=f"owner:{stopped.letter.owner.code}" if stopped.letter else f"stopped_address:{stopped.pk}",
        before={"status": stopped.status, "stopped_at": stopped.stopped_at.isoformat()},
        reason=reason,
    )
    stopped.delete()
