"""Letters by mail that told their owner nothing: refused when they were handed over, or come back for good later."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Lower

from service_center.intervals.models import DueDate
from service_center.letters.models import AddressLifted, Answer, DeliveryReport, Letter, Reminder
from service_center.letters.queries.bounces import OURS, stop_of
from service_center.letters.queries.coming import stopped
from service_center.letters.queries.grounds import has_ground
from service_center.letters.queries.listing import to_see_to
from service_center.letters.rules.addressing import one_address
from service_center.letters.rules.bounces import Happened
from service_center.letters.rules.codes import Fault
from service_center.letters.rules.deciding import Reason, out_of_reach
from service_center.letters.rules.words import Channel, LetterSort, LetterState


@dataclass(frozen=True, slots=True)
class CameBack:
    """A letter that came back, and what was said of it."""

    letter: Letter
    report: DeliveryReport


def refused() -> QuerySet[Letter]:
    """Letters that were refused, and whose owner no mail reaches now, the oldest first: what they remind of was not said."""
    letters = _unreached().filter(Exists(_living().filter(letter=OuterRef("pk"))), state=LetterState.REFUSED)
    return letters.select_related("owner").order_by("pk")


def refused_to_us() -> QuerySet[Letter]:
    """Letters that were refused for the house's own fault, and have something to say still, the oldest first."""
    said = DeliveryReport.objects.filter(letter=OuterRef("pk")).order_by("-happened_at", "-pk")
    letters = to_see_to(LetterState.REFUSED).filter(channel=Channel.MAIL)
    return letters.annotate(last_fault=Subquery(said.values("fault")[:1])).filter(last_fault__in=OURS).order_by("pk")


def beyond_reach(letter: Letter) -> Reason | None:
    """Why a letter that is let go would end when a sender takes it up, by what is known of its owner. One statement."""
    owner = letter.owner
    return out_of_reach(
        has_owner=True,
        letters=owner.letters if letter.sort == LetterSort.INVITATION else True,
        has_ground=True,
        email=one_address(owner.email) or "",
        stopped=stop_of(owner.email) is not None,
        held="",
    )


def came_back() -> QuerySet[Letter]:
    """Letters that were sent and came back for good, and whose owner no mail reaches now, the oldest first.

    The owner has said nothing of a piece since, and no later letter speaks of it: that one is told in its place. What
    was reported before the desk lifted the address's stop counts no longer, nor what was said of another address.
    Looked for from the reports that stopped an address, by index: letters that were sent are nearly all there are.
    """
    later = Reminder.objects.filter(
        piece=OuterRef("piece"), letter__owner=OuterRef("letter__owner"), letter__gt=OuterRef("letter"), ended_on=None
    )
    letters = _unreached().filter(
        Exists(_living().filter(_unanswered(), ~Exists(later), letter=OuterRef("pk"))),
        # Of this copy: what was said before is of an earlier try, which may have gone elsewhere.
        Q(owner__email="") | Q(lower=OuterRef("email")),
        pk=OuterRef("letter"),
        dot_at__lte=OuterRef("recorded_at"),
        state=LetterState.SENT,
        channel=Channel.MAIL,
    )
    lifted = AddressLifted.objects.filter(email=OuterRef("email"), at__gte=OuterRef("happened_at"))
    for_good = DeliveryReport.objects.filter(
        Exists(letters), ~Exists(lifted), fault=Fault.ADDRESS, happened=Happened.FAILED
    ).exclude(email="")
    return Letter.objects.filter(pk__in=for_good.values("letter")).select_related("owner").order_by("pk")


def with_reports(letters: Sequence[Letter]) -> list[CameBack]:
    """Letters that came back, each with the last report that says so. One statement."""
    rows = DeliveryReport.objects.filter(letter__in=letters, fault=Fault.ADDRESS, happened=Happened.FAILED)
    last = {row.letter_id: row for row in rows.order_by("happened_at", "pk")}
    return [CameBack(letter, last[letter.pk]) for letter in letters if letter.pk in last]


def is_unsaid(letter: Letter) -> bool:
    """Whether a letter is to be told or posted in the place of the mail. One statement."""
    rows = {LetterState.REFUSED: refused, LetterState.SENT: came_back}.get(LetterState(letter.state))
    return rows is not None and rows().filter(pk=letter.pk).exists()


def still_to_say(letter: Letter) -> QuerySet[Reminder]:
    """What a letter reminds of that was not settled since: of pieces that are its owner's, and due as they were then."""
    return _living().filter(_unanswered(), letter=letter)


def _unreached() -> QuerySet[Letter]:
    """Letters about service to owners who have letters, and a ground for them, and whom no mail reaches."""
    letters = Letter.objects.filter(sort=LetterSort.INVITATION, owner__letters=True).annotate(
        lower=Lower("owner__email")
    )
    return letters.filter(Q(owner__email="") | Q(Exists(stopped("owner__email"))), has_ground("owner"))


def _living() -> QuerySet[Reminder]:
    """Reminders that still speak of what is due, of a piece that is still the owner's."""
    interval = DueDate.objects.filter(
        piece=OuterRef("piece"), kind=OuterRef("kind"), starts_on=OuterRef("starts_on"), held=""
    )
    return Reminder.objects.filter(Exists(interval), piece__owner=F("letter__owner"), ended_on=None)


def _unanswered() -> Q:
    """The owner has said nothing of the piece since its letter went out."""
    answers = Answer.objects.filter(
        piece=OuterRef("piece"),
        owner=OuterRef("letter__owner"),
        said_on__gte=OuterRef("letter__planned_on"),
        recorded_at__gt=OuterRef("letter__sent_at"),
    )
    return ~Q(Exists(answers))
